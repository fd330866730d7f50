//! The guide for authors of dialects, `templates/AUTHORS.md`: its steps are done one after the other, as a newcomer
//! would, and what they print is what stands there. `BLESS=1` writes what they print now.
//!
//! A fenced block of `sh` is run; the block of `text` after it is what it prints. A block whose first line names a file
//! after its language is that file.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::Path;
use std::process::Command;

/// A fenced block: what its first line says, and its text.
struct Block {
    info: String,
    text: String,
}

/// The page cut into prose and blocks, in turn; prose first.
fn cut(page: &str) -> (Vec<String>, Vec<Block>) {
    let (mut prose, mut blocks) = (vec![String::new()], Vec::<Block>::new());
    let mut inside = false;
    for line in page.lines() {
        if let Some(info) = line.strip_prefix("```") {
            inside = !inside;
            match inside {
                true => blocks.push(Block { info: info.to_owned(), text: String::new() }),
                false => prose.push(String::new()),
            }
        } else {
            let text = if inside { &mut blocks.last_mut().unwrap().text } else { prose.last_mut().unwrap() };
            *text += &format!("{line}\n");
        }
    }
    (prose, blocks)
}

fn joined(prose: &[String], blocks: &[Block]) -> String {
    let mut page = prose[0].clone();
    for (block, after) in blocks.iter().zip(&prose[1..]) {
        page += &format!("```{}\n{}```\n{after}", block.info, block.text);
    }
    page
}

fn run(folder: &Path, line: &str) -> (String, bool) {
    let mut words = line.split_whitespace();
    assert_eq!(words.next(), Some("ringwright"), "{line}");
    let done = Command::new(env!("CARGO_BIN_EXE_ringwright")).current_dir(folder).args(words).output().unwrap();
    let text = [done.stderr, done.stdout].map(|bytes| String::from_utf8(bytes).unwrap()).concat();
    (text, done.status.success())
}

#[test]
fn every_step_of_the_guide_does_what_it_says() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates/AUTHORS.md");
    let page = fs::read_to_string(&file).unwrap();
    let (prose, mut blocks) = cut(&page);
    let folder = tempfile::tempdir().unwrap();
    let mut said: Option<String> = None;
    let mut ends = Vec::new();
    for block in &mut blocks {
        match block.info.split_once(' ') {
            None if block.info == "sh" => {
                let (text, fine) = run(folder.path(), block.text.trim());
                (said, _) = (Some(text), ends.push(fine));
            }
            None if block.info == "text" => block.text = said.take().expect("a command comes before its output"),
            Some((_, path)) => {
                let path = folder.path().join(path);
                fs::create_dir_all(path.parent().unwrap()).unwrap();
                fs::write(path, &block.text).unwrap();
            }
            None => panic!("a block of `{}` is neither run nor written", block.info),
        }
    }
    if std::env::var_os("BLESS").is_some() {
        fs::write(&file, joined(&prose, &blocks)).unwrap();
    }
    assert_eq!(fs::read_to_string(&file).unwrap(), joined(&prose, &blocks), "run with BLESS=1 and read the difference");
    // the first lint finds the mistake of step 3, everything else ends well
    assert_eq!(ends, [true, false, true, true, true, true]);
}

#[test]
fn a_page_is_put_together_as_it_was() {
    let page = "a\n\n```sh\nls\n```\n\n```text\nb\n```\nc\n";
    let (prose, blocks) = cut(page);
    assert_eq!(joined(&prose, &blocks), page);
}
