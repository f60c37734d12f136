//! What a browser makes of the pages, where one is installed.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use super::Page;

const BROWSERS: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];
/// The longest job in type that is read at arm's length: four sheets of paper have eight sides.
const MOST_SIDES: usize = 8;

fn browser() -> Option<PathBuf> {
    let folders = std::env::var_os("PATH")?;
    std::env::split_paths(&folders)
        .flat_map(|folder| BROWSERS.map(|name| folder.join(name)))
        .find(|path| path.is_file())
}

/// Runs it to its end, and not for ever.
fn run(browser: &Path, profile: &Path, args: &[String], out: &Path) -> String {
    let mut child = Command::new(browser)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-extensions"])
        .arg(format!("--user-data-dir={}", profile.display()))
        .args(args)
        .stdin(Stdio::null())
        .stdout(fs::File::create(out).unwrap())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let begin = Instant::now();
    while child.try_wait().unwrap().is_none() {
        if begin.elapsed() > Duration::from_secs(60) {
            child.kill().unwrap();
            child.wait().unwrap();
            panic!("the browser did not come to an end: {args:?}");
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    fs::read_to_string(out).unwrap_or_default()
}

/// A frame of a phone's and of a desk's width around the page, and a few lines that measure it: the page has no script of its
/// own. Written into the title, from where it is read back.
fn measuring(html: &str) -> String {
    let escaped = html.replace('&', "&amp;").replace('"', "&quot;");
    let frames: String = WIDTHS
        .iter()
        .map(|width| format!("<iframe width='{width}' height='900' srcdoc=\"{escaped}\"></iframe>"))
        .collect();
    format!(
        "<!DOCTYPE html><title>none</title>{frames}<script>onload = () => {{ document.title = [...document.querySelectorAll('iframe')]\
         .map(f => f.contentDocument.documentElement.scrollWidth + '/' + f.contentWindow.innerWidth).join(' ') }}</script>"
    )
}

const WIDTHS: [u32; 2] = [390, 1200];

/// One job of each kind, and the longest: a browser takes its time.
const LOOKED_AT: [&str; 6] =
    ["heron-van", "heron-estate", "plover-pickup", "avocet-saloon", "gannet-forester", "simulation of pans"];

/// Of the first so many jobs of these the customer's page is measured too.
const ONE_PAGE: usize = 2;

#[allow(clippy::print_stderr)]
pub fn look_at(pages: &[Page], folder: &Path) {
    let Some(browser) = browser() else {
        eprintln!(
            "no browser is installed ({}): how wide and how long the pages are was not measured",
            BROWSERS.join(", ")
        );
        return;
    };
    let profile = folder.join("profile");
    let looked_at = |page: &&Page| {
        let known = LOOKED_AT.iter().position(|job| page.name.ends_with(job));
        known.is_some_and(|at| at < ONE_PAGE || !page.name.starts_with("customer"))
    };
    for page in pages.iter().filter(looked_at) {
        let name = &page.name;
        let file = folder.join(format!("{}.html", name.replace(' ', "-")));
        let measured = folder.join("measured.html");
        fs::write(&file, &page.html).unwrap();
        fs::write(&measured, measuring(&page.html)).unwrap();
        let args = ["--dump-dom".to_owned(), format!("file://{}", measured.display())];
        let dom = run(&browser, &profile, &args, &folder.join("dom"));
        let title = dom.split("<title>").nth(1).and_then(|rest| rest.split("</title>").next()).unwrap_or_default();
        let found: Vec<(u32, u32)> = title
            .split(' ')
            .filter_map(|pair| pair.split_once('/'))
            .map(|(wide, room)| (wide.parse().unwrap(), room.parse().unwrap()))
            .collect();
        assert_eq!(found.len(), WIDTHS.len(), "{name}: nothing was measured: {title}");
        for (wide, room) in found {
            assert!(wide <= room, "{name} is {wide} wide where there is room for {room}: it scrolls sideways");
        }
        let paper = folder.join("paper.pdf");
        let args = [
            "--no-pdf-header-footer".to_owned(),
            format!("--print-to-pdf={}", paper.display()),
            format!("file://{}", file.display()),
        ];
        run(&browser, &profile, &args, &folder.join("out"));
        let sides = sides(&fs::read(&paper).unwrap());
        let most = if name.starts_with("customer") { 1 } else { MOST_SIDES };
        assert!((1..=most).contains(&sides), "{name} takes {sides} sides of paper");
    }
}

/// Pages of a PDF as Chromium writes it: each has an object of its own.
fn sides(pdf: &[u8]) -> usize {
    let marker = b"/Type /Page";
    pdf.windows(marker.len() + 1).filter(|bytes| bytes.starts_with(marker) && bytes[marker.len()] != b's').count()
}
