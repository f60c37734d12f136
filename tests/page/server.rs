//! The program serving a copy of the examples.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use crate::folders::copy;

pub struct Server {
    child: Child,
    pub address: String,
    lines: Receiver<String>,
}

/// A workshop in a folder of its own.
pub struct Shop {
    folder: tempfile::TempDir,
}

impl Shop {
    pub fn new() -> Self {
        let folder = tempfile::TempDir::new().unwrap();
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
        copy(&root.join("workshop"), &folder.path().join("workshop"));
        std::fs::create_dir(folder.path().join("jobs")).unwrap();
        for job in ["heron-estate", "dunlin-hatch"] {
            std::fs::copy(root.join(format!("jobs/{job}.yaml")), folder.path().join(format!("jobs/{job}.yaml")))
                .unwrap();
        }
        Self { folder }
    }

    pub fn jobs(&self) -> PathBuf {
        self.folder.path().join("jobs")
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// `port`: 0 for any.
    pub fn serve(&self, port: u16, pair: bool) -> Server {
        self.serve_with(port, pair, &[])
    }

    /// A reader's file, once somebody begins it.
    pub fn reader(&self) -> PathBuf {
        self.folder.path().join("rows.csv")
    }

    pub fn serve_with(&self, port: u16, pair: bool, more: &[&str]) -> Server {
        let mut command = Command::new(env!("CARGO_BIN_EXE_standpipe"));
        command.arg("serve").arg(self.jobs()).arg("--shop").arg(self.folder.path().join("workshop/shop.yaml"));
        command.args(["--listen", &format!("127.0.0.1:{port}")]);
        if pair {
            command.arg("--pair");
        }
        command.args(more);
        let mut child = command.stderr(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
        let (tell, lines) = channel();
        let stderr = child.stderr.take().unwrap();
        std::thread::spawn(move || {
            for line in BufReader::new(stderr).lines().map_while(Result::ok) {
                if tell.send(line).is_err() {
                    return;
                }
            }
        });
        let first: String = lines.recv_timeout(Duration::from_secs(60)).expect("the server says where it listens");
        let address = first.split("://").nth(1).map(|rest| rest.trim_end_matches('/').to_owned());
        Server { child, address: address.expect(&first), lines }
    }
}

impl Server {
    /// The next line that holds some words.
    pub fn says(&self, words: &str) -> String {
        loop {
            let line = self.lines.recv_timeout(Duration::from_secs(30));
            let line = line.unwrap_or_else(|_| panic!("the server never said `{words}`"));
            if line.contains(words) {
                return line;
            }
        }
    }

    /// The code it printed.
    pub fn code(&self) -> String {
        self.says("and type").rsplit(' ').next().unwrap().to_owned()
    }

    /// For what looks at the process from outside.
    #[allow(dead_code)]
    pub fn process(&self) -> u32 {
        self.child.id()
    }

    /// As when the plug is pulled.
    pub fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
