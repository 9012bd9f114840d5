//! A kit as one file to send on.
//!
//! Imports: none.

use std::fs::{self, File};
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

/// Stands at the end of an archive of ours: one that bears it may be replaced.
const MARK: &str = "a kit made by frusta";

/// Why there is no archive.
#[derive(Debug)]
pub enum Unpacked {
    /// A file of that name is no archive of ours.
    NotOurs(PathBuf),
    /// The system refused.
    Io(PathBuf, io::Error),
}

/// Where the archive of a kit's folder goes: beside it, with its name.
pub fn path(out: &Path) -> PathBuf {
    let mut name = out.file_name().unwrap_or_else(|| "kit".as_ref()).to_owned();
    name.push(".zip");
    out.with_file_name(name)
}

/// Packs these files of a kit's folder beside it; the same kit gives the same bytes. It is whole or not there.
///
/// # Errors
/// [`Unpacked`]; what stood there stands.
pub fn pack(names: &[&str], out: &Path, force: bool) -> Result<PathBuf, Unpacked> {
    let to = path(out);
    let failed = |e: io::Error| Unpacked::Io(to.clone(), e);
    if !force && !replaceable(&to).map_err(failed)? {
        return Err(Unpacked::NotOurs(to));
    }
    let mut part = to.file_name().unwrap_or_default().to_owned();
    part.push(".part");
    let part = to.with_file_name(part);
    let folder = out.file_name().and_then(|n| n.to_str()).unwrap_or("kit");
    let done = write(names, (out, folder), &part).and_then(|()| fs::rename(&part, &to));
    if done.is_err() {
        // What is half written is of no use; that it cannot be removed changes nothing of what is said.
        let _ = fs::remove_file(&part);
    }
    done.map(|()| to.clone()).map_err(failed)
}

/// Is there nothing, or an archive of ours?
fn replaceable(to: &Path) -> io::Result<bool> {
    let mut file = match File::open(to) {
        Ok(file) => file,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(true),
        Err(e) => return Err(e),
    };
    if !file.metadata()?.is_file() {
        return Ok(false);
    }
    let size = file.metadata()?.len();
    if size < MARK.len() as u64 {
        return Ok(false);
    }
    file.seek(SeekFrom::End(-(MARK.len() as i64)))?;
    let mut tail = vec![0; MARK.len()];
    file.read_exact(&mut tail)?;
    Ok(tail == MARK.as_bytes())
}

fn write(names: &[&str], (out, folder): (&Path, &str), part: &Path) -> io::Result<()> {
    let mut zip = ZipWriter::new(BufWriter::new(File::create(part)?));
    zip.set_comment(MARK)?;
    for name in names {
        // What is packed already is kept as it is.
        let packed = [".png", ".pdf"].iter().any(|x| name.ends_with(x));
        let method = if packed { CompressionMethod::Stored } else { CompressionMethod::Deflated };
        let options = SimpleFileOptions::default()
            .compression_method(method)
            .last_modified_time(DateTime::default())
            .unix_permissions(0o644);
        zip.start_file(format!("{folder}/{name}"), options)?;
        io::copy(&mut File::open(out.join(name))?, &mut zip)?;
    }
    let mut file = zip.finish()?;
    file.flush()?;
    file.get_ref().sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NAMES: [&str; 2] = ["index.html", "view/a.png"];

    /// The same bytes each time, all files in it; a stranger's file is not replaced, ours is.
    #[test]
    fn a_kit_is_packed_and_only_ours_is_replaced() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("fair cup");
        fs::create_dir_all(out.join("view")).unwrap();
        fs::write(out.join(NAMES[0]), b"<p>first").unwrap();
        fs::write(out.join(NAMES[1]), [1, 2, 3]).unwrap();
        let to = pack(&NAMES, &out, false).unwrap();
        assert_eq!(to, dir.path().join("fair cup.zip"));
        let first = fs::read(&to).unwrap();
        pack(&NAMES, &out, false).unwrap();
        assert_eq!(first, fs::read(&to).unwrap());
        let mut read = zip::ZipArchive::new(File::open(&to).unwrap()).unwrap();
        let names: Vec<String> = read.file_names().map(|n| n.unwrap().into_owned()).collect();
        assert_eq!(names, ["fair cup/index.html", "fair cup/view/a.png"]);
        let mut text = String::new();
        read.by_name("fair cup/index.html").unwrap().read_to_string(&mut text).unwrap();
        assert_eq!(text, "<p>first");
        fs::write(&to, "something of the maker's own, and longer than the mark").unwrap();
        assert!(matches!(pack(&NAMES, &out, false), Err(Unpacked::NotOurs(_))));
        assert!(pack(&NAMES, &out, true).is_ok());
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2, "no half is left");
    }
}
