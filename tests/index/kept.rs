//! The index rests on the record files alone: whatever happens to its file or to them, it tells what they tell.
//!
//! Never in here: what `trace` and `trend` make of it. Changes when the index can be odd in another way.

use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, SystemTime};

use stepwell::index::{Chosen, Index};
use stepwell::shop::Paths;

use crate::made::{GOOD, Made, Typed};

fn shop() -> Made {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", GOOD);
    made.run("D-1", "2026-02-10", GOOD);
    made.run("D-2", "2026-03-10", GOOD);
    made
}

fn index(made: &Made) -> Index {
    Index::open(&made.host, &Paths::at(made.root())).expect("an index")
}

/// Records and values of the deliveries, as the index has them.
fn deliveries(index: &Index) -> Vec<(String, String)> {
    let kept = index
        .history(Chosen::default(), "delivered")
        .expect("a history");
    kept.into_iter().map(|k| (k.record, k.value)).collect()
}

fn file(made: &Made) -> PathBuf {
    made.root().join(".stepwell/index.sqlite")
}

fn good(n: usize) -> Vec<(String, String)> {
    let one = |n| (format!("B1-2026-{n:04}"), "10.0".to_owned());
    (1..=n).map(one).collect()
}

#[test]
fn it_comes_back_after_it_is_removed_or_filled_with_garbage() {
    let made = shop();
    assert_eq!(deliveries(&index(&made)), good(3));
    std::fs::remove_dir_all(made.root().join(".stepwell")).expect("it was there");
    assert_eq!(deliveries(&index(&made)), good(3));
    for garbage in [&b""[..], b"garbage", &[0; 4096], &[0xff; 70_000]] {
        std::fs::write(file(&made), garbage).expect("room");
        let index = index(&made);
        assert_eq!(deliveries(&index), good(3), "{} bytes", garbage.len());
        assert_eq!(index.in_memory, None);
    }
}

#[test]
fn a_page_of_garbage_anywhere_is_seen() {
    let made = shop();
    deliveries(&index(&made));
    let whole = std::fs::read(file(&made)).expect("it is there");
    for page in 0..whole.len() / 4096 {
        let mut torn = whole.clone();
        torn[page * 4096..(page + 1) * 4096].fill(0x5a);
        std::fs::write(file(&made), &torn).expect("room");
        assert_eq!(deliveries(&index(&made)), good(3), "page {page}");
    }
}

#[test]
fn an_index_of_another_version_is_made_again() {
    let made = shop();
    deliveries(&index(&made));
    let mut bytes = std::fs::read(file(&made)).expect("it is there");
    // Bytes 60 to 63 of the header are the user version (SQLite's description of its file, from memory).
    bytes[63] ^= 0x55;
    std::fs::write(file(&made), &bytes).expect("room");
    assert_eq!(deliveries(&index(&made)), good(3));
}

#[test]
fn records_that_are_added_altered_or_removed_are_seen() {
    let made = shop();
    deliveries(&index(&made));
    made.run("D-3", "2026-04-10", GOOD);
    assert_eq!(deliveries(&index(&made)), good(4));
    let second = made.file("B1-2026-0002");
    let text = std::fs::read_to_string(&second).expect("a record");
    let other = text.replace("\"value\": \"10.0\"", "\"value\": \"10.1\"");
    assert_ne!(text, other);
    // Of the same size: only the time of change tells.
    assert_eq!(text.len(), other.len());
    std::fs::write(&second, other).expect("room");
    let mut wanted = good(4);
    wanted[1].1 = "10.1".to_owned();
    assert_eq!(deliveries(&index(&made)), wanted);
    std::fs::remove_file(&second).expect("it was there");
    wanted.remove(1);
    assert_eq!(deliveries(&index(&made)), wanted);
    std::fs::write(&second, "{\"no\": \"record\"}").expect("room");
    let index = index(&made);
    assert_eq!(deliveries(&index), wanted);
    let no_records = index.no_records().expect("an index");
    assert_eq!(no_records.len(), 1);
    assert_eq!(no_records[0].0, "2026/B1-2026-0002.json");
}

/// Counts how many records are read.
struct Counting<'m> {
    made: &'m Made,
    read: AtomicUsize,
}

mod counting {
    use std::io;
    use std::path::{Path, PathBuf};
    use std::time::Duration;

    use stepwell::host::{Host, Lock, Stamp};

    use super::{Counting, Ordering};

    impl Host for Counting<'_> {
        fn read(&self, path: &Path, limit: u64) -> io::Result<Vec<u8>> {
            self.read.fetch_add(1, Ordering::Relaxed);
            self.made.host.read(path, limit)
        }
        fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
            self.made.host.write(path, bytes)
        }
        fn write_with(
            &self,
            path: &Path,
            fill: &mut dyn FnMut(&mut dyn io::Write) -> io::Result<()>,
        ) -> io::Result<()> {
            self.made.host.write_with(path, fill)
        }
        fn create(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
            self.made.host.create(path, bytes)
        }
        fn create_secret(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
            self.made.host.create_secret(path, bytes)
        }
        fn append(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
            self.made.host.append(path, bytes)
        }
        fn truncate(&self, path: &Path, length: u64) -> io::Result<()> {
            self.made.host.truncate(path, length)
        }
        fn remove(&self, path: &Path) -> io::Result<()> {
            self.made.host.remove(path)
        }
        fn make_folder(&self, path: &Path) -> io::Result<()> {
            self.made.host.make_folder(path)
        }
        fn list(&self, folder: &Path) -> io::Result<Vec<PathBuf>> {
            self.made.host.list(folder)
        }
        fn exists(&self, path: &Path) -> bool {
            self.made.host.exists(path)
        }
        fn is_folder(&self, path: &Path) -> bool {
            self.made.host.is_folder(path)
        }

        fn is_special(&self, path: &Path) -> bool {
            self.made.host.is_special(path)
        }
        fn lock(&self, path: &Path) -> io::Result<Lock> {
            self.made.host.lock(path)
        }
        fn wait_lock(&self, path: &Path) -> io::Result<Lock> {
            self.made.host.wait_lock(path)
        }
        fn stamp(&self, path: &Path) -> io::Result<Stamp> {
            self.made.host.stamp(path)
        }
        fn git_show(&self, folder: &Path, named: &str, limit: u64) -> io::Result<Vec<u8>> {
            self.made.host.git_show(folder, named, limit)
        }

        fn random(&self, bytes: &mut [u8]) -> io::Result<()> {
            self.made.host.random(bytes)
        }
        fn now(&self) -> String {
            self.made.host.now()
        }
        fn monotonic(&self) -> Duration {
            self.made.host.monotonic()
        }
    }
}

#[test]
fn only_files_that_changed_are_read_again() {
    let made = shop();
    let old = SystemTime::now() - Duration::from_secs(100);
    for n in 1..=3 {
        let file = made.file(&format!("B1-2026-{n:04}"));
        let file = std::fs::File::options()
            .write(true)
            .open(file)
            .expect("a record");
        file.set_modified(old).expect("a time");
    }
    let counting = Counting {
        made: &made,
        read: AtomicUsize::new(0),
    };
    let paths = Paths::at(made.root());
    let read = || {
        let index = Index::open(&counting, &paths).expect("an index");
        assert_eq!(deliveries(&index).len(), 3);
        counting.read.swap(0, Ordering::Relaxed)
    };
    assert_eq!([read(), read(), read()], [3, 0, 0]);
    let text = std::fs::read(made.file("B1-2026-0003")).expect("a record");
    std::fs::write(made.file("B1-2026-0003"), text).expect("room");
    assert_eq!(read(), 1);
}

#[test]
fn a_folder_that_can_not_be_written_to_has_its_index_in_memory() {
    let made = shop();
    // A file where the folder should be, which no right to write gets past.
    std::fs::write(made.root().join(".stepwell"), "in the way").expect("room");
    let index = index(&made);
    assert_eq!(deliveries(&index), good(3));
    assert!(index.in_memory.is_some());
}

#[test]
fn a_device_last_passed_when_its_last_good_record_was_sealed() {
    let made = shop();
    made.run(
        "D-1",
        "2026-05-10",
        Typed {
            delivered: "8.0",
            ..GOOD
        },
    );
    made.run_as("D-1", "2026-06-10", GOOD, true);
    let index = index(&made);
    let ended = index.last_ended(&[]).expect("an index");
    let last = |tag: &str, recipe: &str| {
        let mut of = ended.iter().filter(|e| e.tag == tag && e.recipe == recipe);
        of.find(|e| e.passed).map(|e| e.day.clone())
    };
    // Neither the fail of May nor the trial of June.
    assert_eq!(last("D-1", "looked-back").as_deref(), Some("2026-02-10"));
    assert_eq!(last("D-2", "looked-back").as_deref(), Some("2026-03-10"));
    assert_eq!(last("D-3", "looked-back"), None);
    assert_eq!(last("D-1", "volumetric-annual"), None);
    let failed = ended.iter().find(|e| !e.passed).expect("the fail of May");
    assert_eq!((&*failed.tag, &*failed.day), ("D-1", "2026-05-10"));
}
