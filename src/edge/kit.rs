//! The kit's folder: all files or none, and never over what `frusta` did not write.
//!
//! A list of what was written, with a checksum of each file, lies in the folder as `.frusta-kit`. A folder is
//! replaced only if every file in it is on that list and unchanged, or the maker forces it; even then what is
//! not the kit's moves over into the new folder, unless the new kit has a file of that name. Beside the kit K
//! stand, hidden, P (`.K.frusta-part`), N (`-new`) and O (`-old`), with a number after the name if one of an
//! earlier run cannot be swept. One run at a time: the folder above is locked. Killed after a step:
//!
//! | step | stands at K | hidden | what the next start does |
//! |---|---|---|---|
//! | 1 files are written into P, synced | old | P: half a kit | removes P |
//! | 2 P is renamed to N | old | N: the new kit, whole | removes what N's list names |
//! | 3 K and N exchange names | new | N: old kit, maker's files | moves the maker's over, removes the rest |
//! | 3' (no exchange) K is renamed to O | none | O: old kit; N | renames O to K, removes N |
//! | 3'' N to K, then O to N | new | O or N: old kit, maker's files | as after 3 |
//! | 4 the maker's files move from N to K | new | N: old kit | as after 3 |
//! | 5 N is swept, its list last | new | N: rest of the old kit | goes on |
//!
//! A refusal up to 3: the kit that was there stands, and this is said. In 4: all is moved back and the names
//! exchanged back; if the system refuses this too, that is what is said, and where the files lie. In 5: the
//! kit is made; what could not be swept is a warning.
//!
//! Imports: none.

pub mod aside;
pub mod flush;

use aside::{At, Content, LIST, LIST_HEAD, at, carry, checksum, exchange, shown, sweep};
use flush::{Syncing, sync_folder};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File, TryLockError};
use std::io::{self, Write};
use std::path::{Component, Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Why a kit was not written.
#[derive(Debug)]
pub enum Refused {
    /// Files in the folder that `frusta` did not write, or that were changed since; nothing was touched.
    NotOurs(Vec<String>),
    /// Files where the kit has folders, or folders where it has files; nothing was touched.
    InTheWay(Vec<String>),
    /// A file, or a link that leads to no folder, stands where the kit's folder goes; nothing was touched.
    NoFolder,
    /// The system refused.
    Io {
        /// What it refused.
        path: PathBuf,
        /// Why.
        error: io::Error,
        /// What is true now.
        now: Now,
    },
}

/// What is true of the kit's folder after a refusal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Now {
    /// There was a kit, and it stands.
    Stands,
    /// There was none, and there is none.
    Nothing,
    /// It lies under another name: the next run puts it back.
    SetAside(PathBuf),
    /// The new kit stands, but files of the maker's lie in the old one, under this name: the next run moves
    /// them.
    Torn(PathBuf),
}

/// What is to be said of a kit that was written.
#[derive(Debug, Default)]
pub struct Said {
    /// Folders of old kits that could not be swept, and why.
    pub left: Vec<At>,
    /// The program was started from within the folder that was replaced.
    pub stood_within: bool,
}

/// What may be heard of before files are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Begin {
    /// Another run writes there: this one waits.
    Waits,
    /// The folder is this run's.
    Has,
}

/// A kit of which files are being written, in any order and from any thread. Nothing is seen of it before
/// [`StagedKit::finish`]; dropped before that, it leaves nothing.
pub struct StagedKit {
    out: PathBuf,
    part: PathBuf,
    new: PathBuf,
    old: PathBuf,
    parent: PathBuf,
    force: bool,
    /// Does a folder stand in its place?
    there: bool,
    /// What is true as long as nothing was moved.
    before: Now,
    taken: Mutex<Taken>,
    syncing: Syncing,
    /// Where the new kit lies, as long as it is to be removed if it comes to nothing.
    mine: Option<PathBuf>,
    left: Vec<At>,
    /// One writer at a time, where the system can lock a folder: the hidden folders found are then nobody's.
    _lock: Option<File>,
}

#[derive(Default)]
struct Taken {
    sums: BTreeMap<String, u64>,
    folders: BTreeSet<PathBuf>,
    refused: Vec<At>,
}

/// How long between two looks at a lock that another run holds.
const LOOK_AGAIN: Duration = Duration::from_millis(20);

/// Waits for the folder's lock, if the system can lock it; never in a call that Ctrl-C does not end.
fn lock(parent: &Path, hear: &dyn Fn(Begin)) -> Option<File> {
    let folder = File::open(parent).ok()?;
    let mut waits = false;
    loop {
        match folder.try_lock() {
            Ok(()) => return Some(folder),
            Err(TryLockError::WouldBlock) => {
                if !std::mem::replace(&mut waits, true) {
                    hear(Begin::Waits);
                }
                std::thread::sleep(LOOK_AGAIN);
            }
            Err(TryLockError::Error(_)) => return None,
        }
    }
}

/// Hidden names beside a kit.
struct Beside {
    parent: PathBuf,
    head: String,
}

impl Beside {
    fn path(&self, kind: &str, n: usize) -> PathBuf {
        let n = if n == 0 { String::new() } else { n.to_string() };
        self.parent.join(format!("{}{kind}{n}", self.head))
    }
    /// Folders of this kind that are there.
    fn found(&self, kind: &str) -> Vec<PathBuf> {
        let head = format!("{}{kind}", self.head);
        let ours = |p: &PathBuf| {
            let name = p.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            let n = name.strip_prefix(&head);
            n.is_some_and(|n| n.bytes().all(|b| b.is_ascii_digit()))
                && p.symlink_metadata().is_ok_and(|m| m.is_dir())
        };
        let entries = fs::read_dir(&self.parent).into_iter().flatten().flatten();
        let mut all: Vec<PathBuf> = entries.map(|e| e.path()).filter(ours).collect();
        all.sort();
        all
    }
    /// Mends what killed runs left; what it could not sweep.
    fn recover(&self, out: &Path) -> Result<Vec<At>, Refused> {
        let mut left = Vec::new();
        let old = self.found("old");
        for aside in old.into_iter().chain(self.found("new")) {
            let content = Content::of(&aside);
            let goes_back = aside.to_string_lossy().contains(".frusta-old")
                || content.as_ref().is_ok_and(|c| !c.is_pure());
            if goes_back && out.symlink_metadata().is_err() {
                fs::rename(&aside, out).map_err(|error| Refused::Io {
                    path: aside.clone(),
                    error,
                    now: Now::SetAside(aside.clone()),
                })?;
                continue;
            }
            let swept = content
                .and_then(|c| carry(&aside, out, &c).map_err(|e| e.0))
                .and_then(|()| sweep(&aside, out));
            left.extend(swept.err().map(|e| (aside, e.1)));
        }
        for part in self.found("part") {
            left.extend(fs::remove_dir_all(&part).err().map(|e| (part, e)));
        }
        Ok(left)
    }
    /// The first number that no folder has.
    fn free(&self) -> usize {
        let taken =
            |n: &usize| ["part", "new", "old"].iter().any(|k| self.path(k, *n).symlink_metadata().is_ok());
        (0..).find(|n| !taken(n)).unwrap_or_default()
    }
}

impl StagedKit {
    /// Looks whether the kit may go there and makes room for its files; `hear` is told before it waits for
    /// another run, and once it waits no more.
    ///
    /// # Errors
    /// [`Refused`]: what is there stands as it was.
    pub fn new(out: &Path, force: bool, hear: &dyn Fn(Begin)) -> Result<StagedKit, Refused> {
        let nothing = |(path, error): At| Refused::Io { path, error, now: Now::Nothing };
        // A link to a folder stands for the folder: renaming would move the link. "." has no name to rename.
        let out = if out.file_name().is_none() || (out.is_symlink() && out.is_dir()) {
            out.canonicalize().map_err(at(out)).map_err(nothing)?
        } else {
            out.to_owned()
        };
        let no_name = || io::Error::new(io::ErrorKind::InvalidInput, "this is no folder's name");
        let name = out.file_name().ok_or_else(|| nothing((out.clone(), no_name())))?;
        let parent = match out.parent() {
            Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
            _ => PathBuf::from("."),
        };
        let no_folder = |out: &Path| out.symlink_metadata().is_ok_and(|m| !m.is_dir());
        if no_folder(&out) {
            return Err(Refused::NoFolder);
        }
        fs::create_dir_all(&parent).map_err(at(&parent)).map_err(nothing)?;
        let beside = Beside { parent: parent.clone(), head: format!(".{}.frusta-", name.to_string_lossy()) };
        let lock = lock(&parent, hear);
        hear(Begin::Has);
        let left = beside.recover(&out)?;
        let there = out.symlink_metadata().is_ok();
        let empty = || fs::read_dir(&out).is_ok_and(|mut all| all.next().is_none());
        let before = if there && !empty() { Now::Stands } else { Now::Nothing };
        let io = |(path, error): At| Refused::Io { path, error, now: before.clone() };
        if there && !force {
            let foreign = Content::of(&out).map_err(io)?.foreign;
            if !foreign.is_empty() {
                return Err(Refused::NotOurs(foreign.iter().map(|p| shown(p)).collect()));
            }
        }
        let n = beside.free();
        let (part, new, old) = (beside.path("part", n), beside.path("new", n), beside.path("old", n));
        fs::create_dir(&part).map_err(at(&part)).map_err(io)?;
        let taken = Mutex::new(Taken { folders: BTreeSet::from([part.clone()]), ..Taken::default() });
        let (syncing, mine) = (Syncing::start(), Some(part.clone()));
        Ok(StagedKit {
            out,
            part,
            new,
            old,
            parent,
            force,
            there,
            before,
            taken,
            syncing,
            mine,
            left,
            _lock: lock,
        })
    }
    /// Writes one file of the kit; what the system says against it, [`StagedKit::finish`] tells.
    pub fn take(&self, name: &str, bytes: &[u8]) {
        let path = self.part.join(name);
        if let Err(error) = self.written(name, &path, bytes) {
            self.taken().refused.push((path, error));
        }
    }
    fn written(&self, name: &str, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let plain = Path::new(name).components().all(|c| matches!(c, Component::Normal(_)));
        if !plain || name.is_empty() || name.contains('\n') || name == LIST {
            return Err(io::Error::new(io::ErrorKind::InvalidInput, "this is no name of a kit's file"));
        }
        if let Some(folder) = path.parent()
            && !self.taken().folders.contains(folder)
        {
            fs::create_dir_all(folder)?;
            self.taken().folders.insert(folder.to_owned());
        }
        let mut file = File::create_new(path)?;
        file.write_all(bytes)?;
        let sum = checksum(bytes);
        self.taken().sums.insert(name.to_owned(), sum);
        self.syncing.file(path, file)
    }
    fn taken(&self) -> MutexGuard<'_, Taken> {
        // What a thread that panicked left here is whole: it is changed by single calls.
        self.taken.lock().unwrap_or_else(PoisonError::into_inner)
    }
    /// Moves the kit into place, once all its files have come; `names` in the order of its list.
    ///
    /// # Errors
    /// [`Refused`] says what is true then.
    pub fn finish(mut self, names: &[&str]) -> Result<Said, Refused> {
        let before = self.before.clone();
        self.complete(names).map_err(|(path, error)| Refused::Io { path, error, now: before })?;
        let stood_within = self.there
            && matches!((std::env::current_dir(), self.out.canonicalize()), (Ok(here), Ok(out)) if here.starts_with(&out));
        if self.there {
            self.replace(names)?;
        } else {
            fs::rename(&self.new, &self.out).map_err(|error| self.refused((self.out.clone(), error)))?;
            self.mine = None;
        }
        sync_folder(&self.parent);
        let mut left = std::mem::take(&mut self.left);
        if self.there {
            left.extend(sweep(&self.new, &self.out).err().map(|e| (self.new.clone(), e.1)));
        }
        Ok(Said { left, stood_within })
    }
    fn refused(&self, (path, error): At) -> Refused {
        Refused::Io { path, error, now: self.before.clone() }
    }
    /// Steps 1 and 2: the new kit is whole, under its own name.
    fn complete(&mut self, names: &[&str]) -> Result<(), At> {
        let taken = std::mem::take(&mut *self.taken());
        let mut list = format!("{LIST_HEAD}\n");
        let mut refused = taken.refused;
        for name in names {
            match taken.sums.get(*name) {
                Some(sum) => list.push_str(&format!("{sum:016x} {name}\n")),
                None if refused.is_empty() => {
                    let error = io::Error::new(io::ErrorKind::NotFound, "this file of the kit never came");
                    refused.push((self.part.join(name), error));
                }
                None => {}
            }
        }
        if refused.is_empty() {
            let path = self.part.join(LIST);
            let listed = File::create_new(&path).and_then(|mut file| {
                file.write_all(list.as_bytes())?;
                self.syncing.file(&path, file)
            });
            refused.extend(listed.err().map(|error| (path, error)));
            // Names last through a power cut only when their folders do.
            taken.folders.iter().for_each(|folder| self.syncing.folder(folder));
        }
        refused.extend(self.syncing.end());
        refused.sort_by(|a, b| a.0.cmp(&b.0));
        if let Some(first) = refused.into_iter().next() {
            return Err(first);
        }
        fs::rename(&self.part, &self.new).map_err(at(&self.new))?;
        self.mine = Some(self.new.clone());
        Ok(())
    }
    /// Steps 3 and 4: the new kit stands, with the maker's files; the old one lies under the hidden name.
    fn replace(&mut self, names: &[&str]) -> Result<(), Refused> {
        let content = Content::of(&self.out).map_err(|e| self.refused(e))?;
        let in_the_way = content.in_the_way(names);
        if !in_the_way.is_empty() {
            return Err(Refused::InTheWay(in_the_way));
        }
        self.swap()?;
        self.mine = None;
        // Looked at once more: nobody writes into it any more by its name.
        let carried = match Content::of(&self.new) {
            Err(e) => Err(self.refused(e)),
            Ok(c) if !self.force && !c.foreign.is_empty() => {
                Err(Refused::NotOurs(c.foreign.iter().map(|p| shown(p)).collect()))
            }
            Ok(c) => carry(&self.new, &self.out, &c).map_err(|((path, error), torn)| {
                let now = if torn { Now::Torn(self.new.clone()) } else { self.before.clone() };
                Refused::Io { path, error, now }
            }),
        };
        let Err(refused) = carried else { return Ok(()) };
        if matches!(refused, Refused::Io { now: Now::Torn(_), .. }) {
            return Err(refused);
        }
        self.swap().map_err(|again| match again {
            Refused::Io { path, error, now: Now::Stands | Now::Nothing } => {
                Refused::Io { path, error, now: Now::Torn(self.new.clone()) }
            }
            other => other,
        })?;
        self.mine = Some(self.new.clone());
        Err(refused)
    }
    /// The two kits exchange their names.
    fn swap(&self) -> Result<(), Refused> {
        let (out, new, old) = (&self.out, &self.new, &self.old);
        if exchange(out, new).map_err(|e| self.refused((out.clone(), e)))? {
            return Ok(());
        }
        fs::rename(out, old).map_err(|e| self.refused((out.clone(), e)))?;
        if let Err(error) = fs::rename(new, out) {
            let back = fs::rename(old, out).is_ok();
            let now = if back { self.before.clone() } else { Now::SetAside(old.clone()) };
            return Err(Refused::Io { path: out.clone(), error, now });
        }
        // Under this name it is never put back.
        fs::rename(old, new).map_err(|error| Refused::Io {
            path: old.clone(),
            error,
            now: Now::Torn(old.clone()),
        })
    }
}

impl Drop for StagedKit {
    fn drop(&mut self) {
        drop(self.syncing.end());
        match self.mine.take() {
            Some(new) if new == self.new => {
                // It may have stood in its place for a moment: what came into it then is not its own.
                if let Ok(content) = Content::of(&new) {
                    let _ = carry(&new, &self.out, &content);
                }
                let _ = sweep(&new, &self.out);
            }
            Some(part) => _ = fs::remove_dir_all(part),
            None => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::aside::{BYTE_LIST_HEAD, byte_checksum};
    use super::*;

    type Files<'a> = &'a [(&'a str, &'a [u8])];
    const FIRST: Files<'static> = &[("cut/white-1.svg", b"one"), ("manifest.json", b"{}")];
    const SECOND: Files<'static> = &[("cut/white-2.svg", b"two")];

    /// All files of a kit, one after another.
    fn write(out: &Path, files: &[(&str, &[u8])], force: bool) -> Result<Said, Refused> {
        let begun = StagedKit::new(out, force, &|_| ())?;
        files.iter().for_each(|(name, bytes)| begun.take(name, bytes));
        begun.finish(&files.iter().map(|f| f.0).collect::<Vec<_>>())
    }

    fn names_in(folder: &Path) -> Vec<String> {
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
        assert_eq!(names_in(out.parent().unwrap()), ["kit"]);
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
        assert_eq!(names_in(dir.path()), ["kit"]);
        write(&out, SECOND, true).unwrap();
        assert_eq!(fs::read_to_string(out.join("cut/notes.txt")).unwrap(), "mine", "not the kit's: it stays");
        assert_eq!(fs::read_to_string(out.join("manifest.json")).unwrap(), "changed", "nothing goes over it");
        assert!(!out.join("cut/white-1.svg").exists(), "the kit's own, unchanged: replaced");
        write(&out, FIRST, true).unwrap();
        assert_eq!(fs::read(out.join("manifest.json")).unwrap(), b"{}", "forced over");
        assert_eq!(names_in(dir.path()), ["kit"]);
    }

    #[test]
    fn an_empty_folder_is_nobodys_and_a_file_in_its_place_is_somebodys() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("kit");
        fs::create_dir(&out).unwrap();
        write(&out, FIRST, false).unwrap();
        let file = dir.path().join("file");
        fs::write(&file, "mine").unwrap();
        assert!(matches!(write(&file, FIRST, false), Err(Refused::NoFolder)));
        assert!(matches!(write(&file, FIRST, true), Err(Refused::NoFolder)), "not even forced");
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
                write(&at("other"), SECOND, false).unwrap();
                fs::rename(at("other"), at("kit")).unwrap();
                fs::write(at(".kit.frusta-old/notes.txt"), "mine").unwrap();
            }
            let beside = Beside { parent: dir.path().to_owned(), head: ".kit.frusta-".into() };
            assert!(beside.recover(&at("kit")).unwrap().is_empty());
            assert_eq!(names_in(dir.path()), ["kit"], "{part} {moved} {set_aside}");
            assert_eq!(at("kit/cut/white-1.svg").exists(), !moved);
            let mine: &[&str] = if moved { &["notes.txt"] } else { &[] };
            let foreign: Vec<String> =
                Content::of(&at("kit")).unwrap().foreign.iter().map(|p| shown(p)).collect();
            assert_eq!(foreign, mine, "a forced kit killed before it moved them");
        }
    }

    /// Files that come in any order from several threads make the kit that they make one after another.
    #[test]
    fn files_may_come_in_any_order_from_any_thread() {
        let dir = tempfile::tempdir().unwrap();
        let names: Vec<String> = (0..60).map(|i| format!("{}/{}/f{i}", i % 7, i % 3)).collect();
        let bytes: Vec<Vec<u8>> = (0..60usize).map(|i| vec![i as u8; i * i]).collect();
        let files: Vec<(&str, &[u8])> =
            names.iter().zip(&bytes).map(|(n, b)| (n.as_str(), b.as_slice())).collect();
        let listed: Vec<&str> = files.iter().map(|f| f.0).collect();
        let (one, many) = (dir.path().join("one"), dir.path().join("many"));
        write(&one, &files, false).unwrap();
        let begun = StagedKit::new(&many, false, &|_| ()).unwrap();
        std::thread::scope(|s| {
            for k in 0..3 {
                let (begun, files) = (&begun, &files);
                s.spawn(move || {
                    files.iter().rev().skip(k).step_by(3).for_each(|(n, b)| begun.take(n, b));
                });
            }
        });
        assert!(!many.exists(), "nothing is seen before the end");
        begun.finish(&listed).unwrap();
        for name in names.iter().map(String::as_str).chain([LIST]) {
            assert_eq!(fs::read(one.join(name)).unwrap(), fs::read(many.join(name)).unwrap(), "{name}");
        }
        assert_eq!(Content::of(&many).unwrap().foreign, Vec::<PathBuf>::new());
    }

    #[test]
    fn a_kit_that_is_not_whole_leaves_nothing() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("kit");
        let begun = StagedKit::new(&out, false, &|_| ()).unwrap();
        begun.take("a/b", b"b");
        drop(begun);
        assert_eq!(names_in(dir.path()), Vec::<String>::new(), "dropped");
        let begun = StagedKit::new(&out, false, &|_| ()).unwrap();
        begun.take("a/b", b"b");
        assert!(matches!(begun.finish(&["a/b", "c"]), Err(Refused::Io { .. })), "a file that never came");
        assert_eq!(names_in(dir.path()), Vec::<String>::new());
        for clash in [("a", b"x".as_slice()), ("a/b", b"twice")] {
            let refused = write(&out, &[("a/b", b"b"), clash], false);
            assert!(matches!(refused, Err(Refused::Io { .. })), "{clash:?}");
            assert_eq!(names_in(dir.path()), Vec::<String>::new());
        }
    }

    /// Truth: every change of one bit, one swap of bytes, one byte more or less is told; and the sums by
    /// bytes are those that Fowler, Noll and Vo publish (FNV-1a of 64 bits of "" and of "a").
    #[test]
    fn a_changed_file_has_another_sum_and_old_lists_are_read() {
        assert_eq!((byte_checksum(b""), byte_checksum(b"a")), (0xcbf2_9ce4_8422_2325, 0xaf63_dc4c_8601_ec8c));
        let text: Vec<u8> = (0..37u8).collect();
        let sum = checksum(&text);
        for i in 0..text.len() {
            for bit in 0..8 {
                let mut other = text.clone();
                other[i] ^= 1 << bit;
                assert_ne!(checksum(&other), sum, "{i} {bit}");
            }
            assert_ne!(checksum(&text[..i]), sum);
            let mut other = text.clone();
            other.swap(i, (i + 8) % text.len());
            assert_ne!(checksum(&other), sum, "{i}");
        }
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("kit");
        write(&out, FIRST, false).unwrap();
        let lines: String = FIRST.iter().map(|(n, b)| format!("{:016x} {n}\n", byte_checksum(b))).collect();
        fs::write(out.join(LIST), format!("{BYTE_LIST_HEAD}\n{lines}")).unwrap();
        write(&out, SECOND, false).unwrap();
        assert_eq!(names_in(&out), [LIST, "cut"]);
    }

    #[test]
    fn names_that_lead_out_are_refused_and_nothing_is_left() {
        let dir = tempfile::tempdir().unwrap();
        for name in ["../x", "/x", LIST, ""] {
            let refused = write(&dir.path().join("kit"), &[("a", b"a"), (name, b"x")], false);
            assert!(matches!(refused, Err(Refused::Io { .. })), "{name}");
            assert_eq!(names_in(dir.path()), Vec::<String>::new());
        }
    }
}
