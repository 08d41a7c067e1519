//! `raise`: its arguments, and what it tells.
//!
//! Never in here: which recipes are raised (see `app`). Changes when it tells something else.

use std::path::Path;

use clap::Args;

use crate::app::{self, Raised, Raising};
use crate::host::RealHost;
use crate::recipe::Name;
use crate::text::findings_as_text;

use super::commands::{Done, GOOD, NO, colour, here, print, say, say_under};

/// What to raise.
#[derive(Clone, Debug, Args)]
pub struct RaiseArguments {
    /// The id of the base or fragment that has a new revision
    pub recipe: String,
    /// Who raises them; stands in `changes` of each
    #[arg(long, value_name = "PERSON")]
    pub by: String,
    /// Why, for `changes` of each; without it, what the base says of its own revision
    #[arg(long, value_name = "TEXT")]
    pub why: Option<String>,
    /// Only tell what would change
    #[arg(long)]
    pub check: bool,
}

/// Lets all recipes of a shop rest on the newest revision of one.
pub(super) fn raise(host: &RealHost, shop: Option<&Path>, asked: &RaiseArguments) -> Done {
    let open = app::open_shop(host, &here(host, shop)?)?;
    let raising = Raising {
        recipe: &asked.recipe,
        by: &asked.by,
        why: asked.why.as_deref(),
        only_tell: asked.check,
    };
    let (all, unread) = app::raise(host, &open, &raising)?;
    if !unread.is_empty() {
        print(&findings_as_text(&unread, colour(&std::io::stdout())));
        say("what can't be read was not looked at; mend it, and raise again\n");
    }
    if all.is_empty() {
        say(&format!(
            "no recipe rests on an older revision of `{}`",
            asked.recipe
        ));
        return Ok(GOOD);
    }
    for one in &all {
        tell(one);
    }
    let (good, bad): (Vec<&Raised>, Vec<&Raised>) = all.iter().partition(|r| r.outcome.is_ok());
    let counted = |n: usize| match n {
        1 => "1 recipe".to_owned(),
        n => format!("{n} recipes"),
    };
    let done = match asked.check {
        true => "would be raised",
        false => "raised",
    };
    say(&format!("{} {done}", counted(good.len())));
    if !asked.check && !good.is_empty() {
        say("Next: `stepwell check`, then a reviewer approves them:");
        let by_id = |one: &Raised| open.paths.recipes().join(format!("{}.yaml", one.now.id));
        let named = |one: &&Raised| match one.path == by_id(one) {
            true => one.now.id.clone(),
            false => one.path.display().to_string(),
        };
        let names: Vec<String> = good.iter().map(named).collect();
        say(&format!(
            "  stepwell approve {} --by PERSON",
            names.join(" ")
        ));
    }
    if bad.is_empty() && unread.is_empty() {
        return Ok(GOOD);
    }
    if !bad.is_empty() {
        say(&format!(
            "{} left as they were; mend what is said of them, or edit them by hand",
            counted(bad.len())
        ));
    }
    Ok(NO)
}

fn tell(one: &Raised) {
    let on: Vec<String> = one.on.iter().map(Name::to_string).collect();
    let on = on.join(", ");
    match &one.outcome {
        Ok(difference) => {
            let to = match one.before == one.now {
                true => format!("{} as it is, not approved yet", one.now),
                false => format!("{} to {}", one.before, one.now.revision),
            };
            let comes_to = match difference {
                Some(difference) if one.is_changed() => difference.summary(),
                Some(_) => "nothing changes in effect".to_owned(),
                None => "what that changes can't be told".to_owned(),
            };
            let line = format!("{to}, on {on}: {comes_to}");
            say(&line);
            for (name, value) in &one.keeps {
                let line =
                    format!("keeps its own {name}, {value}: does the change hold for it too?");
                say_under(&line);
            }
        }
        Err(findings) => {
            say(&format!("{}: not raised, on {on}", one.before));
            print(&findings_as_text(findings, colour(&std::io::stdout())));
        }
    }
}
