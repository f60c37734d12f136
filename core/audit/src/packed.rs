//! A job that was handed over as one file: taken out, and looked at as its folder would be.

use std::path::Path;

use super::journal::{Asked, Audited, look};
use super::point::{Point, Verdict};
use standpipe_job::journal::{Contents, LeftOut, files};
use standpipe_job::plan::Kept;
use standpipe_pack::{Fault, Unpacked, unpack};
use standpipe_sign::FOLDER;

/// Whatever is in the file, it is one line of an audit and never its end.
pub(super) fn audit(path: &Path, asked: &Asked, plans: &mut Kept) -> Audited {
    let file = path.display().to_string();
    let unpacked = match unpack(path) {
        Ok(unpacked) => unpacked,
        Err(fault) => return unread(path, fault),
    };
    let mut audited = look(&unpacked.job(), asked, plans, Some(&unpacked));
    // Where it was taken out is gone when anybody reads this.
    let taken_out = unpacked.job().display().to_string();
    for finding in audited.points.iter_mut().flat_map(|point| &mut point.findings) {
        for text in [&mut finding.message, &mut finding.place.file] {
            *text = text.replace(&taken_out, &file);
        }
    }
    let named = Audited::new(path);
    if audited.events == 0 {
        audited.job = named.job;
    }
    audited.folder = named.folder;
    audited
}

fn unread(path: &Path, fault: Fault) -> Audited {
    let mut audited = Audited::new(path);
    audited.state = "not read";
    let (name, verdict, message) = match fault {
        Fault::Newer => ("version", Verdict::NotShown, "a newer version of this program packed it".to_owned()),
        Fault::Disk(message) => ("pack", Verdict::NotShown, message),
        Fault::Broken(message) => ("pack", Verdict::DoesNotHold, format!("the pack can't be read: {message}")),
    };
    let mut point = Point::new(name, &audited.folder);
    point.find(verdict, None, message);
    audited.points.push(point);
    audited.settle()
}

/// Nothing rides along that the journal does not name.
pub(super) fn point(unpacked: &Unpacked, contents: &Contents, folder: &Path) -> Point {
    let mut point = Point::new("pack", &folder.display().to_string());
    let named = files(contents);
    point.looked_at = unpacked.files.len() as u64;
    // What signatures are for is another point.
    let alone =
        |name: &String| !named.contains_key(name) && name != LeftOut::FILE && !name.starts_with(&format!("{FOLDER}/"));
    for name in unpacked.files.iter().filter(|name| alone(name)) {
        point.find(Verdict::DoesNotHold, None, format!("`{name}` is in the pack, and the journal does not name it"));
    }
    point
}
