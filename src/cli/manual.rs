//! `manual`: the manual page, made from the arguments and the words of a session.
//!
//! Never in here: what commands do. Changes when the page gets a part.

use std::fmt::Write;

use clap::{Command, CommandFactory};

use crate::app::AppError;

use super::arguments::Arguments;
use super::commands::{Done, GOOD, print};
use super::words::HELP;

/// Prints the page: the program, each command with its options and examples, and the words of a session.
pub(super) fn manual() -> Done {
    let command = Arguments::command();
    let mut page = Vec::new();
    let whole = clap_mangen::Man::new(command.clone());
    let mut written = whole.render(&mut page);
    for part in command.get_subcommands() {
        written = written.and_then(|()| one(part, &mut page));
    }
    page.extend(words().into_bytes());
    written.map_err(|e| AppError::new(format!("the manual page can't be written: {e}")))?;
    print(&on_one_page(&command, &String::from_utf8_lossy(&page)));
    Ok(GOOD)
}

/// All commands stand on this page: none has one of its own, as the list of them would say.
fn on_one_page(command: &Command, page: &str) -> String {
    let mut page = page.to_owned();
    for part in command.get_subcommands() {
        let name = part.get_name().replace('-', "\\-");
        page = page.replace(
            &format!("stepwell\\-{name}(1)"),
            &format!("stepwell {name}"),
        );
    }
    page.replace("stepwell\\-help(1)", "stepwell help")
}

/// A command: what it does, its options, its examples.
fn one(part: &Command, page: &mut Vec<u8>) -> std::io::Result<()> {
    let one = clap_mangen::Man::new(part.clone());
    let heading = format!(".SH \"STEPWELL {}\"\n", part.get_name().to_uppercase());
    page.extend(heading.into_bytes());
    one.render_description_section(page)?;
    one.render_options_section(page)?;
    if let Some(after) = part.get_after_help() {
        page.extend(beneath(&after.to_string()).into_bytes());
    }
    Ok(())
}

/// What stands beneath a command's options: each line by itself, examples indented.
fn beneath(text: &str) -> String {
    let mut out = ".SH EXAMPLES\n".to_owned();
    for line in text.lines() {
        let (indent, line) = match line.strip_prefix("Example: ") {
            Some(example) => (4, example),
            None => (0, line),
        };
        // Writing to a text can't fail.
        let _ = write!(out, ".PP\n.RS {indent}\n{}\n.RE\n", roff(line));
    }
    out
}

fn words() -> String {
    let lines: String = HELP.iter().map(|line| roff(line) + "\n").collect();
    format!(".SH \"WORDS IN A SESSION\"\n.nf\n{lines}.fi\n")
}

/// A line as it is written in the language of manual pages.
fn roff(line: &str) -> String {
    let line = line.replace('\\', "\\e").replace('-', "\\-");
    match line.starts_with(['.', '\'']) {
        true => format!("\\&{line}"),
        false => line,
    }
}
