//! The kit's folder: all files or none, and never over what `frusta` did not write.
//!
//! A kit is written into a part-folder beside its place, synced, and moved into place by renaming. A list of what was
//! written, with a checksum of each file, lies in the folder as `.frusta-kit`; a folder is replaced only if every file in it is on
//! that list and unchanged, or the maker forces it. Even then files that are not the kit's move over into the new
//! folder, unless the new kit has a file of that name. Between the two renames of a replacement the old kit stands
//! under its set-aside name: whatever interrupts, [`write()`] finds it and puts it back, or moves what is not the kit's.
//!
//! Imports: none.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Component, Path, PathBuf};

/// The list of what was written.
const LIST: &str = ".frusta-kit";
const LIST_HEAD: &str = "frusta kit 1";

/// Why a kit was not written; the old one stands as it was.
#[derive(Debug)]
pub enum Refused {
    /// Files in the folder that `frusta` did not write, or that were changed since.
    NotOurs(Vec<String>),
    /// The system refused.
    Io {
        /// What it refused.
        path: PathBuf,
        /// Why.
        error: io::Error,
    },
}

fn io_at(path: &Path) -> impl FnOnce(io::Error) -> Refused + '_ {
    move |error| Refused::Io { path: path.to_owned(), error }
}

/// 64-bit FNV-1a: tells a changed file from an unchanged one, not a forged one.
fn checksum(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(*b)).wrapping_mul(0x0100_0000_01b3))
}

/// Writes a kit, whole or not at all.
///
/// # Errors
/// [`Refused`]: the old kit, if there was one, stands as it was.
pub fn write(out: &Path, files: &[(&str, &[u8])], force: bool) -> Result<(), Refused> {
    // A link to a folder stands for the folder; renaming would move the link.
    let real = if out.is_symlink() && out.is_dir() {
        out.canonicalize().map_err(io_at(out))?
    } else {
        out.to_owned()
    };
    let out = real.as_path();
    let name = out
        .file_name()
        .ok_or_else(|| io_at(out)(io::Error::new(io::ErrorKind::InvalidInput, "this is no folder's name")))?;
    let parent = match out.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    fs::create_dir_all(parent).map_err(io_at(parent))?;
    if out.is_file() && force {
        let error = io::Error::new(io::ErrorKind::NotADirectory, "a file stands where the kit's folder goes");
        return Err(io_at(out)(error));
    }
    let beside = |kind: &str| {
        let mut n = std::ffi::OsString::from(".");
        n.push(name);
        n.push(kind);
        parent.join(n)
    };
    // One writer at a time, where the system can lock a folder: the part-folders found below are then nobody's.
    let lock = File::open(parent).ok().filter(|folder| folder.lock().is_ok());
    let result = locked(out, &beside(".frusta-part"), &beside(".frusta-old"), parent, files, force);
    drop(lock);
    result
}

fn locked(
    out: &Path,
    part: &Path,
    old: &Path,
    parent: &Path,
    files: &[(&str, &[u8])],
    force: bool,
) -> Result<(), Refused> {
    recover(out, part, old)?;
    let there = out.symlink_metadata().is_ok();
    if there && !force {
        let foreign = foreign(out)?;
        if !foreign.is_empty() {
            return Err(Refused::NotOurs(foreign.iter().map(|p| shown(p)).collect()));
        }
    }
    let written = fill(part, files);
    if let Err(refused) = written {
        let _ = fs::remove_dir_all(part);
        return Err(refused);
    }
    if there {
        fs::rename(out, old).map_err(io_at(out))?;
    }
    if let Err(error) = fs::rename(part, out) {
        if there {
            let _ = fs::rename(old, out);
        }
        let _ = fs::remove_dir_all(part);
        return Err(io_at(out)(error));
    }
    sync_folder(parent);
    if there {
        sweep(old, out)?;
    }
    Ok(())
}

/// Removes a kit that was set aside; what is not the kit's moves over into the new one first.
fn sweep(old: &Path, out: &Path) -> Result<(), Refused> {
    for name in foreign(old)? {
        let (from, to) = (old.join(&name), out.join(&name));
        // The new kit has a file of that name: it was forced over this one.
        if to.symlink_metadata().is_ok() {
            continue;
        }
        if let Some(folder) = to.parent() {
            fs::create_dir_all(folder).map_err(io_at(folder))?;
        }
        fs::rename(&from, &to).map_err(io_at(&to))?;
    }
    remove(old).map_err(io_at(old))
}

/// What an interrupted run left: an old kit without a new one goes back, the rest is swept.
fn recover(out: &Path, part: &Path, old: &Path) -> Result<(), Refused> {
    if old.symlink_metadata().is_ok() {
        if out.symlink_metadata().is_ok() {
            sweep(old, out)?;
        } else {
            fs::rename(old, out).map_err(io_at(old))?;
        }
    }
    if part.symlink_metadata().is_ok() {
        remove(part).map_err(io_at(part))?;
    }
    Ok(())
}

fn remove(path: &Path) -> io::Result<()> {
    if path.symlink_metadata()?.is_dir() { fs::remove_dir_all(path) } else { fs::remove_file(path) }
}

fn fill(part: &Path, files: &[(&str, &[u8])]) -> Result<(), Refused> {
    fs::create_dir(part).map_err(io_at(part))?;
    let mut list = format!("{LIST_HEAD}\n");
    for (name, bytes) in files {
        let path = part.join(name);
        let plain = Path::new(name).components().all(|c| matches!(c, Component::Normal(_)));
        if !plain || name.contains('\n') || *name == LIST {
            let e = io::Error::new(io::ErrorKind::InvalidInput, "this is no name of a kit's file");
            return Err(io_at(&path)(e));
        }
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(io_at(folder))?;
        }
        write_synced(&path, bytes)?;
        list.push_str(&format!("{:016x} {name}\n", checksum(bytes)));
    }
    write_synced(&part.join(LIST), list.as_bytes())?;
    sync_folder(part);
    Ok(())
}

fn write_synced(path: &Path, bytes: &[u8]) -> Result<(), Refused> {
    let mut file = File::create_new(path).map_err(io_at(path))?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(io_at(path))
}

/// Makes a renaming last through a power cut, where the system can; renaming itself is whole either way.
fn sync_folder(path: &Path) {
    if let Ok(folder) = File::open(path) {
        let _ = folder.sync_all();
    }
}

fn shown(path: &Path) -> String {
    path.to_string_lossy().replace(std::path::MAIN_SEPARATOR, "/")
}

/// Files of a folder that are not on its list, or are changed, by their paths within it; none for an empty folder.
fn foreign(out: &Path) -> Result<Vec<PathBuf>, Refused> {
    if !out.symlink_metadata().map_err(io_at(out))?.is_dir() {
        return Ok(vec![out.to_owned()]);
    }
    let mut known = BTreeMap::new();
    if let Ok(list) = fs::read_to_string(out.join(LIST))
        && let Some(lines) = list.strip_prefix(LIST_HEAD)
    {
        known.extend(
            lines
                .lines()
                .filter_map(|l| l.split_once(' '))
                .map(|(sum, name)| (name.to_owned(), sum.to_owned())),
        );
    }
    let mut foreign = Vec::new();
    let mut folders = vec![out.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).map_err(io_at(&folder))? {
            let entry = entry.map_err(io_at(&folder))?;
            let path = entry.path();
            let name = path.strip_prefix(out).unwrap_or(&path).to_owned();
            let kind = entry.file_type().map_err(io_at(&path))?;
            if kind.is_dir() {
                folders.push(path);
            } else if name.as_os_str() == LIST && !known.is_empty() {
                continue;
            } else {
                let ours = kind.is_file()
                    && match known.get(&shown(&name)) {
                        Some(sum) => {
                            *sum == format!("{:016x}", checksum(&fs::read(&path).map_err(io_at(&path))?))
                        }
                        None => false,
                    };
                if !ours {
                    foreign.push(name);
                }
            }
        }
    }
    foreign.sort();
    Ok(foreign)
}

#[cfg(test)]
mod tests {
    use super::*;

    type Files<'a> = &'a [(&'a str, &'a [u8])];
    const FIRST: Files<'static> = &[("cut/white-1.svg", b"one"), ("manifest.json", b"{}")];
    const SECOND: Files<'static> = &[("cut/white-2.svg", b"two")];

    fn names(folder: &Path) -> Vec<String> {
        let mut all: Vec<String> =
            fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        all.sort();
        all
    }

    #[test]
    fn a_kit_replaces_a_kit_and_leaves_nothing_beside_it() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("new/kit");
        write(&out, FIRST, false).unwrap();
        assert_eq!(fs::read(out.join("cut/white-1.svg")).unwrap(), b"one");
        write(&out, SECOND, false).unwrap();
        assert!(!out.join("manifest.json").exists(), "the old kit is gone as a whole");
        assert_eq!(names(out.parent().unwrap()), ["kit"]);
    }

    #[test]
    fn files_of_the_maker_are_never_lost_unless_forced() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("kit");
        write(&out, FIRST, false).unwrap();
        fs::write(out.join("cut/notes.txt"), "mine").unwrap();
        fs::write(out.join("manifest.json"), "changed").unwrap();
        match write(&out, SECOND, false) {
            Err(Refused::NotOurs(files)) => assert_eq!(files, ["cut/notes.txt", "manifest.json"]),
            other => panic!("{other:?}"),
        }
        assert_eq!(fs::read_to_string(out.join("cut/notes.txt")).unwrap(), "mine");
        assert_eq!(names(dir.path()), ["kit"]);
        write(&out, SECOND, true).unwrap();
        assert_eq!(fs::read_to_string(out.join("cut/notes.txt")).unwrap(), "mine", "not the kit's: it stays");
        assert_eq!(fs::read_to_string(out.join("manifest.json")).unwrap(), "changed", "nothing goes over it");
        assert!(!out.join("cut/white-1.svg").exists(), "the kit's own, unchanged: replaced");
        write(&out, FIRST, true).unwrap();
        assert_eq!(fs::read(out.join("manifest.json")).unwrap(), b"{}", "forced over");
        assert_eq!(names(dir.path()), ["kit"]);
    }

    #[test]
    fn an_empty_folder_is_nobodys_and_a_file_in_its_place_is_somebodys() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("kit");
        fs::create_dir(&out).unwrap();
        write(&out, FIRST, false).unwrap();
        let file = dir.path().join("file");
        fs::write(&file, "mine").unwrap();
        assert!(matches!(write(&file, FIRST, false), Err(Refused::NotOurs(_))));
        assert!(matches!(write(&file, FIRST, true), Err(Refused::Io { .. })), "not even forced");
        assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
    }

    /// What a kill leaves at each step between making the part-folder and sweeping the old kit.
    #[test]
    fn whatever_a_kill_leaves_the_next_run_mends() {
        for (part, moved, set_aside) in [(true, false, false), (true, false, true), (false, true, true)] {
            let dir = tempfile::tempdir().unwrap();
            let at = |n: &str| dir.path().join(n);
            write(&at("kit"), FIRST, false).unwrap();
            if set_aside {
                fs::rename(at("kit"), at(".kit.frusta-old")).unwrap();
            }
            if part {
                fs::create_dir(at(".kit.frusta-part")).unwrap();
                fs::write(at(".kit.frusta-part/half"), "half").unwrap();
            }
            if moved {
                fill(&at("kit"), SECOND).unwrap();
                fs::write(at(".kit.frusta-old/notes.txt"), "mine").unwrap();
            }
            recover(&at("kit"), &at(".kit.frusta-part"), &at(".kit.frusta-old")).unwrap();
            assert_eq!(names(dir.path()), ["kit"], "{part} {moved} {set_aside}");
            assert_eq!(at("kit/cut/white-1.svg").exists(), !moved);
            let mine: &[&str] = if moved { &["notes.txt"] } else { &[] };
            let foreign: Vec<String> = foreign(&at("kit")).unwrap().iter().map(|p| shown(p)).collect();
            assert_eq!(foreign, mine, "a forced kit killed before it moved them");
        }
    }

    #[test]
    fn names_that_lead_out_are_refused_and_nothing_is_left() {
        let dir = tempfile::tempdir().unwrap();
        for name in ["../x", "/x", LIST, ""] {
            let refused = write(&dir.path().join("kit"), &[("a", b"a"), (name, b"x")], false);
            assert!(matches!(refused, Err(Refused::Io { .. })), "{name}");
            assert_eq!(names(dir.path()), Vec::<String>::new());
        }
    }
}
