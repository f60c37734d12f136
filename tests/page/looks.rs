//! Whatever a page shows can be read, reached and tapped: as axe-core holds the rules of WCAG 2.2 A and AA
//! (<https://www.w3.org/TR/WCAG22/>), light and dark, and in screens of every shape.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::path::Path;

use serde_json::{Value as Json, json};

use crate::by_taps::PHONE;
use crate::driver::Window;

/// What a run without it says; `.ci/run` fetches it and looks that this is not said.
const NO_AXE: &str =
    "NOT CHECKED: no target/axe/axe.min.js (sh tests/page/fetch-axe.sh), so nothing is shown of WCAG 2.2";

/// Width, height and size of type in percent: a small phone, a phone on its side, a laptop of 1280 x 800 at a zoom of 200 %
/// (success criterion 1.4.4), a phone set to large type.
const SHAPES: [(u32, u32, u32); 4] = [(320, 640, 100), (844, 390, 100), (640, 400, 100), (390, 844, 200)];

/// What makes a page another kind of page: each is looked at where it is first seen.
const KINDS: [&str; 31] = [
    ".refusal",
    ".unsent",
    ".code",
    ".offer",
    ".columns",
    ".before",
    ".now .cautions",
    ".now .taps",
    ".now .map",
    ".now .clock",
    ".now .reader",
    ".now .course",
    ".now .photo",
    ".now .witness",
    ".now .who",
    ".now .rest, .now [name=rest]",
    ".now input[type=text]",
    ".now input[type=date]",
    ".now select",
    ".now .same",
    ".now textarea",
    ".now .take",
    ".now .tag-line",
    ".now .verdict",
    ".now .again",
    ".now [value=looked]",
    ".now [value=begin]",
    ".now [value=withdraw]",
    ".field.faulty",
    "[value=take-back]",
    ".now .why",
];

const AXE: &str = "
    const only = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22a', 'wcag22aa'];
    return axe.run(document, { runOnly: only, rules: { 'target-size': { enabled: true } }, resultTypes: ['violations'] })
        .then((it) => it.violations.flatMap((v) => v.nodes.map((n) => v.id + ': ' + n.html.slice(0, 160) + ' ' + n.failureSummary)));";

/// Gives what is wrong with how a page lies: wider than the screen, text that is cut off or runs into other text or out of its
/// bar, and what a bar at the top hides as it gets the focus.
const LIES: &str = "
    const [width] = arguments;
    scrollTo(0, 0);
    const wrong = [];
    const says = (it) => it.tagName.toLowerCase() + ' `' + (it.textContent || it.name || '').trim().slice(0, 40) + '`';
    const wide = document.documentElement.scrollWidth;
    if (wide > width) wrong.push('the page is ' + wide + ' wide');
    const shown = (it) => it.checkVisibility({ visibilityProperty: true }) && !it.closest('svg, select, datalist, noscript') && !away(it);
    const away = (it) => it && (getComputedStyle(it).clipPath === 'inset(50%)' || away(it.parentElement));
    const boxes = [];
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) {
        const node = texts.currentNode, it = node.parentElement;
        if (!node.data.trim() || !shown(it)) continue;
        const range = document.createRange();
        range.selectNodeContents(node);
        for (const box of range.getClientRects()) if (box.width > 1 && box.height > 1) boxes.push([box, it, true]);
    }
    for (const it of document.querySelectorAll('input:not([type=hidden]), select, textarea')) {
        if (shown(it) || it.tagName === 'SELECT' && it.checkVisibility()) boxes.push([it.getBoundingClientRect(), it, false]);
    }
    for (const [box, it] of boxes) {
        if (box.left < -0.5 || box.right > width + 0.5) wrong.push(says(it) + ' lies beside the screen');
        const bar = it.closest('button, .bar, summary, .choice, a, .refusal, .now');
        const around = bar && getComputedStyle(bar).display !== 'inline' && bar.getBoundingClientRect();
        if (around && (box.left < around.left - 1 || box.right > around.right + 1 || box.top < around.top - 1 || box.bottom > around.bottom + 1))
            wrong.push(says(it) + ' runs out of ' + says(bar));
    }
    for (let a = 0; a < boxes.length; a++) for (let b = a + 1; b < boxes.length; b++) {
        const [one, its, text] = boxes[a], [two, other, words] = boxes[b];
        const across = Math.min(one.right, two.right) - Math.max(one.left, two.left);
        const down = Math.min(one.bottom, two.bottom) - Math.max(one.top, two.top);
        // Lines set close touch a little.
        const touches = text && words ? Math.min(one.height, two.height) / 4 : 1;
        if (across > 1 && down > touches) wrong.push(says(its) + ' runs into ' + says(other));
    }
    for (const it of document.querySelectorAll('main *')) {
        const cut = getComputedStyle(it).overflowX !== 'visible' && !it.matches('input, select, textarea, svg, .unseen');
        if (cut && it.checkVisibility() && it.scrollWidth > it.clientWidth + 1) wrong.push(says(it) + ' is cut off');
    }
    const top = document.querySelector('.top');
    const below = top && getComputedStyle(top).position === 'sticky' ? top.getBoundingClientRect().height : 0;
    if (below > innerHeight / 3) wrong.push('the bar at the top takes ' + below + ' of ' + innerHeight);
    const reached = [...document.querySelectorAll('main a, main button, main summary, main input:not([type=hidden]), main select, main textarea')];
    for (const it of reached.filter((it) => it.checkVisibility() && !it.disabled).reverse()) {
        it.focus();
        if (document.activeElement === it && it.getBoundingClientRect().top < below - 1) wrong.push(says(it) + ' has the focus beneath the bar');
        it.blur();
    }
    scrollTo(0, 0);
    return wrong;";

/// 56 CSS pixels for whatever is tapped, in gloves.
const SMALL: &str = "
    return [...document.querySelectorAll('a, button, .choice, summary, select, textarea, input:not([type=radio]):not([type=checkbox])')]
        .filter((it) => it.offsetParent && it.getBoundingClientRect().height < 55.5)
        .map((it) => it.tagName + ' ' + it.textContent + ' is too small for gloves');";

/// Every kind of page, once.
pub struct Looks {
    seen: RefCell<BTreeSet<String>>,
    found: RefCell<Vec<String>>,
    axe: Option<String>,
}

impl Looks {
    pub fn new() -> Self {
        let axe = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("target/axe/axe.min.js")).ok();
        if axe.is_none() {
            assert!(std::env::var_os("STANDPIPE_AXE_NEEDED").is_none(), "{NO_AXE}");
            eprintln!("{NO_AXE}");
        }
        Self { seen: RefCell::default(), found: RefCell::default(), axe }
    }

    /// Looks at what a window shows, where it is of a kind that was not looked at yet.
    pub fn at(&self, window: &Window) {
        let script = "return [location.pathname.replace(/^.job.[^/]+/, 'job') + location.search,
            document.querySelector('main')?.dataset.phase ?? '', ...arguments[0].filter((it) => document.querySelector(it))]";
        let marks = window.run(script, json!([KINDS]));
        let marks: Vec<&str> = marks.as_array().unwrap().iter().filter_map(Json::as_str).collect();
        let (path, marks) = marks.split_first().unwrap();
        let mut seen = self.seen.borrow_mut();
        // Each alone: what is new is looked at in its place, and not again in every company.
        let news = marks.iter().filter(|mark| seen.insert(format!("{path} {mark}"))).count();
        if news > 0 {
            let wrong = self.wrong(window).into_iter().map(|wrong| format!("{path} {marks:?} {wrong}"));
            self.found.borrow_mut().extend(wrong);
        }
    }

    /// What is wrong with what a window shows, with all that can be opened open.
    pub fn wrong(&self, window: &Window) -> Vec<String> {
        let open = "for (const it of document.querySelectorAll('details:not([open])')) { it.open = true; it.dataset.looked = '' }";
        window.run(open, json!([]));
        let mut wrong = self.against_rules(window);
        let mut ask = |said: &str, found: Json| wrong.extend(told(said, &found));
        for (width, height, percent) in SHAPES {
            window.resize((width, height));
            let size = "document.documentElement.style.fontSize = arguments[0]";
            window.run(size, json!([if percent == 100 { String::new() } else { format!("{percent}%") }]));
            let said = format!("{width} x {height}, type of {percent} %");
            ask(&said, window.run(LIES, json!([width])));
            if width == 320 {
                ask(&said, window.run(SMALL, json!([])));
            }
            window.run(size, json!([""]));
        }
        window.resize(PHONE);
        let close = "for (const it of document.querySelectorAll('[data-looked]')) { it.open = false; delete it.dataset.looked }";
        window.run(close, json!([]));
        wrong
    }

    /// What is wrong by the rules of WCAG, light and dark.
    pub fn against_rules(&self, window: &Window) -> Vec<String> {
        let Some(axe) = &self.axe else { return Vec::new() };
        if window.run("return typeof axe", json!([])) != "object" {
            window.run(axe, json!([]));
        }
        let mut wrong = Vec::new();
        for dark in [false, true] {
            window.dark(dark);
            wrong.extend(told(if dark { "dark" } else { "light" }, &window.run(AXE, json!([]))));
        }
        window.dark(false);
        wrong
    }

    /// Nothing was wrong with any page that was looked at.
    pub fn hold(&self) {
        let found = self.found.borrow();
        assert!(found.is_empty(), "{}", found.join("\n"));
        assert!(self.seen.borrow().len() > 10);
    }

    /// That what is wrong is found: on a page that is spoilt.
    pub fn finds(&self, window: &Window, spoil: &str, what: &str) {
        window.run(spoil, json!([]));
        let wrong = self.wrong(window);
        assert!(wrong.iter().any(|wrong| wrong.contains(what)), "{what}: {wrong:?}");
    }

    /// Whether rules of WCAG are looked at.
    pub fn by_rules(&self) -> bool {
        self.axe.is_some()
    }
}

/// Each fault once.
fn told(said: &str, found: &Json) -> BTreeSet<String> {
    found.as_array().unwrap().iter().filter_map(Json::as_str).map(|it| format!("{said}: {it}")).collect()
}
