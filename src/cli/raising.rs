//! `raise`: its arguments, and what it tells.
//!
//! Never in here: which recipes are raised (see `app`). Changes when it tells something else.

use std::path::Path;

use clap::Args;

use crate::app::{self, Raised, Raising};
use crate::host::RealHost;
use crate::recipe::Name;
use crate::text::findings_as_text;

use super::commands::{Done, GOOD, NO, colour, here, print, say};
use super::show::plain;

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
    let all = app::raise(host, &open, &raising)?;
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
    let counted = |n: usize| {
        if n == 1 {
            "1 recipe".to_owned()
        } else {
            format!("{n} recipes")
        }
    };
    let done = if asked.check {
        "would be raised"
    } else {
        "raised"
    };
    say(&format!("{} {done}", counted(good.len())));
    if !asked.check && !good.is_empty() {
        say("Next: `stepwell check`, then a reviewer approves them:");
        let names: Vec<&str> = good.iter().map(|r| r.now.id.as_str()).collect();
        say(&format!(
            "  stepwell approve {} --by PERSON",
            names.join(" ")
        ));
    }
    if bad.is_empty() {
        return Ok(GOOD);
    }
    say(&format!(
        "{} left as they were: the newer revision does not fit what they change of it; edit them by hand",
        counted(bad.len())
    ));
    Ok(NO)
}

fn tell(one: &Raised) {
    let on: Vec<String> = one.on.iter().map(Name::to_string).collect();
    match &one.outcome {
        Ok(difference) => say(&plain(&format!(
            "{} to {}, on {}: {}",
            one.before,
            one.now.revision,
            on.join(", "),
            match difference {
                Some(difference) => difference.summary(),
                None => "what that changes can't be told".to_owned(),
            }
        ))),
        Err(findings) => {
            say(&plain(&format!(
                "{}: not raised to {}",
                one.before,
                on.join(", ")
            )));
            print(&findings_as_text(findings, colour(&std::io::stdout())));
        }
    }
}
