//! What lies in a kit's folder: the kit's own by its list, and the maker's; moved over, moved back, swept.
//!
//! Imports: base.

use crate::base::random::{FNV_OFFSET, FNV_PRIME, fnv1a};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The list of what was written.
pub const LIST: &str = ".frusta-kit";
/// The head of lists.
pub const LIST_HEAD: &str = "frusta kit 2";
/// The head of lists whose sums are of single bytes.
pub const BYTE_LIST_HEAD: &str = "frusta kit 1";

/// What the system refused, and where.
pub type At = (PathBuf, io::Error);

/// Says where.
pub fn at(path: &Path) -> impl FnOnce(io::Error) -> At + '_ {
    move |error| (path.to_owned(), error)
}

/// 64-bit FNV-1a, eight bytes at a step and the rest one by one: tells a changed file from an unchanged one,
/// not a forged one.
pub fn checksum(bytes: &[u8]) -> u64 {
    let mut words = bytes.chunks_exact(8);
    let step = |h: u64, v: u64| (h ^ v).wrapping_mul(FNV_PRIME);
    // A product carries upwards only: the upper half comes back down, so that each bit of a word reaches
    // every other.
    let fold = |h: u64, w: &[u8]| {
        let h = step(h, w.iter().rev().fold(0, |v, b| v << 8 | u64::from(*b)));
        h ^ (h >> 32)
    };
    let h = words.by_ref().fold(FNV_OFFSET, fold);
    words.remainder().iter().fold(step(h, bytes.len() as u64), |h, b| step(h, u64::from(*b)))
}

/// The same one byte at a step.
pub fn byte_checksum(bytes: &[u8]) -> u64 {
    fnv1a(bytes.iter().copied())
}

/// A path within a kit, as its list names it.
pub fn shown(path: &Path) -> String {
    path.to_string_lossy().replace(std::path::MAIN_SEPARATOR, "/")
}

/// What lies in a kit's folder, by paths within it, in their order.
#[derive(Debug, Default, PartialEq)]
pub struct Content {
    /// Files of the list, unchanged, and the list.
    pub kit: Vec<PathBuf>,
    /// Folders that the list's files lie in.
    pub kit_folders: BTreeSet<PathBuf>,
    /// Files, links and all else that are not the kit's, or changed.
    pub foreign: Vec<PathBuf>,
    /// Folders that are not the kit's.
    pub foreign_folders: Vec<PathBuf>,
}

impl Content {
    /// Reads a folder.
    ///
    /// # Errors
    /// What cannot be read.
    pub fn of(root: &Path) -> Result<Content, At> {
        let (known, sum) = listed(root);
        let mut all = Content::default();
        for name in known.keys() {
            all.kit_folders.extend(Path::new(name).ancestors().skip(1).map(Path::to_owned));
        }
        let mut folders = vec![root.to_owned()];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(&folder).map_err(at(&folder))? {
                let entry = entry.map_err(at(&folder))?;
                let path = entry.path();
                let name = path.strip_prefix(root).unwrap_or(&path).to_owned();
                let kind = entry.file_type().map_err(at(&path))?;
                if kind.is_dir() {
                    folders.push(path);
                    if !all.kit_folders.contains(&name) {
                        all.foreign_folders.push(name);
                    }
                    continue;
                }
                let ours = match known.get(&shown(&name)) {
                    _ if !kind.is_file() => false,
                    Some(known) => *known == format!("{:016x}", sum(&fs::read(&path).map_err(at(&path))?)),
                    None => name.as_os_str() == LIST && !known.is_empty(),
                };
                if ours { all.kit.push(name) } else { all.foreign.push(name) }
            }
        }
        all.kit.sort();
        all.foreign.sort();
        all.foreign_folders.sort();
        Ok(all)
    }
    /// Is there nothing of the maker's?
    pub fn is_pure(&self) -> bool {
        self.foreign.is_empty() && self.foreign_folders.is_empty()
    }
    /// What of the maker's cannot stand beside a kit of these files: a file where the kit has a folder, a
    /// folder where it has a file.
    pub fn in_the_way(&self, names: &[&str]) -> Vec<String> {
        let files: BTreeSet<&Path> = names.iter().map(Path::new).chain([Path::new(LIST)]).collect();
        let folders: BTreeSet<&Path> = files.iter().flat_map(|f| f.ancestors().skip(1)).collect();
        let file = self.foreign.iter().filter(|f| folders.contains(f.as_path()));
        file.chain(self.foreign_folders.iter().filter(|f| files.contains(f.as_path())))
            .map(|f| shown(f))
            .collect()
    }
}

type Sum = fn(&[u8]) -> u64;

/// The sums that a folder's list gives, and how they are taken.
fn listed(root: &Path) -> (BTreeMap<String, String>, Sum) {
    let Ok(list) = fs::read_to_string(root.join(LIST)) else { return (BTreeMap::new(), checksum) };
    let (lines, sum): (&str, Sum) = match (list.strip_prefix(LIST_HEAD), list.strip_prefix(BYTE_LIST_HEAD)) {
        (Some(lines), _) => (lines, checksum),
        (None, Some(lines)) => (lines, byte_checksum),
        (None, None) => return (BTreeMap::new(), checksum),
    };
    let lines = lines.lines().filter_map(|l| l.split_once(' '));
    (lines.map(|(sum, name)| (name.to_owned(), sum.to_owned())).collect(), sum)
}

/// What was moved, so that it can be moved back.
#[derive(Debug)]
enum Moved {
    Name(PathBuf, PathBuf),
    Made(PathBuf),
}

/// Moves what is the maker's from one folder into another; nothing there is written over: where a file has
/// its name already, the maker's stays where it is.
///
/// # Errors
/// What cannot be moved; then all is back where it was, or the second part of the error is true.
pub fn carry(from: &Path, to: &Path, content: &Content) -> Result<(), (At, bool)> {
    let mut done = Vec::new();
    let result = carry_each(from, to, content, &mut done);
    result.map_err(|error| {
        let back = |m: &Moved| match m {
            Moved::Name(from, to) => fs::rename(to, from),
            Moved::Made(folder) => fs::remove_dir(folder),
        };
        let torn = done.iter().rev().filter(|m| back(m).is_err()).count() > 0;
        (error, torn)
    })
}

fn carry_each(from: &Path, to: &Path, content: &Content, done: &mut Vec<Moved>) -> Result<(), At> {
    let mut whole: Vec<&Path> = Vec::new();
    for name in content.foreign_folders.iter().chain(&content.foreign) {
        if whole.iter().any(|w| name.starts_with(w)) {
            continue;
        }
        let (old, new) = (from.join(name), to.join(name));
        if new.symlink_metadata().is_ok() {
            continue;
        }
        let missing: Vec<&Path> =
            new.ancestors().skip(1).take_while(|a| *a != to && a.symlink_metadata().is_err()).collect();
        for folder in missing.into_iter().rev() {
            fs::create_dir(folder).map_err(at(folder))?;
            done.push(Moved::Made(folder.to_owned()));
        }
        fs::rename(&old, &new).map_err(at(&new))?;
        done.push(Moved::Name(old, new));
        whole.push(name);
    }
    Ok(())
}

/// Removes a kit that was set aside: its own files, those that a file of the new kit stands for, and empty
/// folders; its list last, so that it is a kit's folder until nothing is left. What else lies there stays.
///
/// # Errors
/// What cannot be removed.
pub fn sweep(aside: &Path, out: &Path) -> Result<(), At> {
    let content = Content::of(aside)?;
    let over = |name: &PathBuf| out.join(name).symlink_metadata().is_ok_and(|m| !m.is_dir());
    let list = PathBuf::from(LIST);
    let files = content.kit.iter().chain(content.foreign.iter().filter(|n| over(n)));
    for name in files.filter(|n| **n != list) {
        remove_file(&aside.join(name))?;
    }
    let mut folders: Vec<&PathBuf> = content.kit_folders.iter().chain(&content.foreign_folders).collect();
    folders.sort();
    for name in folders.iter().rev().filter(|n| !n.as_os_str().is_empty()) {
        let folder = aside.join(name);
        match fs::remove_dir(&folder) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => return Err((folder, e)),
            _ => {}
        }
    }
    if content.kit.contains(&list) || content.foreign.contains(&list) {
        remove_file(&aside.join(LIST))?;
    }
    fs::remove_dir(aside).map_err(at(aside))
}

/// A kit's own file goes even from a folder that may not be written: the folder goes next.
fn remove_file(path: &Path) -> Result<(), At> {
    let removed = fs::remove_file(path).or_else(|e| {
        let folder = path.parent().filter(|_| e.kind() == io::ErrorKind::PermissionDenied).ok_or(e)?;
        give_leave(folder)?;
        fs::remove_file(path)
    });
    removed.map_err(at(path))
}

#[cfg(unix)]
fn give_leave(folder: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(folder, fs::Permissions::from_mode(0o700))
}

#[cfg(not(unix))]
fn give_leave(folder: &Path) -> io::Result<()> {
    fs::metadata(folder).map(|_| ())
}

/// Exchanges two names in one step. `false` where the system or the file system knows no such step: nothing
/// was changed.
///
/// # Errors
/// What the system says else; nothing was changed.
#[cfg(any(target_os = "linux", target_os = "macos"))]
pub fn exchange(a: &Path, b: &Path) -> io::Result<bool> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    match renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE) {
        Ok(()) => Ok(true),
        Err(Errno::INVAL | Errno::NOSYS | Errno::OPNOTSUPP) => Ok(false),
        Err(e) => Err(e.into()),
    }
}

/// Systems that are not known to have it.
///
/// # Errors
/// None.
#[cfg(not(any(target_os = "linux", target_os = "macos")))]
pub fn exchange(_: &Path, _: &Path) -> io::Result<bool> {
    Ok(false)
}
