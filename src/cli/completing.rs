//! Completions for shells, and the names that they offer.
//!
//! Never in here: what the arguments mean. Changes when something else can be completed.

use std::path::Path;

use clap::{Arg, Command, CommandFactory, ValueEnum, ValueHint};
use clap_complete::Shell;

use crate::app;
use crate::host::{Host, RealHost};
use crate::shop::Paths;
use crate::shop::import::Register;

use super::arguments::Arguments;
use super::commands::{Done, GOOD, here, print};
use super::show::plain;

/// What can be named on a command line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Named {
    /// Recipes by their ids.
    Recipes,
    /// Devices by their tags.
    Devices,
    /// People by their ids.
    People,
    /// Instruments by their ids.
    Instruments,
}

/// Arguments that name something of the shop, or a file.
const NAME_OR_FILE: [&str; 4] = ["recipe", "record", "records", "revisions"];

/// What bash asks the program for, before what it knows by itself.
const BASH: &str = r#"
_stepwell_names() {
    local cur="${COMP_WORDS[COMP_CWORD]}" prev="${COMP_WORDS[COMP_CWORD-1]}" kind="" IFS=$'\n'
    case "$prev" in
        --device) kind=devices ;;
        --by) kind=people ;;
        --recipe | run | outline | approve) kind=recipes ;;
        trace) kind=instruments ;;
    esac
    if [[ -n "$kind" && "$cur" != -* ]]; then
        COMPREPLY=($(compgen -W "$(stepwell names "$kind" 2>/dev/null)" -- "$cur"))
        [[ ${#COMPREPLY[@]} -gt 0 ]] && return 0
    fi
    unset IFS
    _stepwell "$@"
}
complete -F _stepwell_names -o bashdefault -o default stepwell
"#;

/// Prints the completions for a shell.
pub(super) fn completions(shell: Shell) -> Done {
    let mut text = Vec::new();
    let mut command = hinted(Arguments::command());
    clap_complete::generate(shell, &mut command, "stepwell", &mut text);
    print(&String::from_utf8_lossy(&text));
    if shell == Shell::Bash {
        print(BASH);
    }
    Ok(GOOD)
}

/// Files are offered only where one is wanted.
fn hinted(command: Command) -> Command {
    let told = |arg: Arg| {
        let may_be_file = NAME_OR_FILE.contains(&arg.get_id().as_str());
        match arg.get_value_hint() {
            ValueHint::Unknown if may_be_file => arg.value_hint(ValueHint::AnyPath),
            ValueHint::Unknown if arg.get_action().takes_values() => {
                arg.value_hint(ValueHint::Other)
            }
            _ => arg,
        }
    };
    command.mut_args(told).mut_subcommands(hinted)
}

/// Prints the names of something, a line each; none outside a shop.
pub(super) fn names(host: &RealHost, shop: Option<&Path>, of: Named) -> Done {
    let Ok(root) = here(host, shop) else {
        return Ok(GOOD);
    };
    let paths = Paths::at(&root);
    let register = match of {
        Named::Recipes => {
            recipes(host, &paths);
            return Ok(GOOD);
        }
        Named::Devices => Register::Devices,
        Named::People => Register::People,
        Named::Instruments => Register::Instruments,
    };
    let open = app::open_register(host, &paths, register)?;
    for entry in &open.entries {
        print(&format!("{}\n", plain(&entry.id)));
    }
    Ok(GOOD)
}

fn recipes(host: &RealHost, paths: &Paths) {
    let files = host.list(&paths.recipes()).unwrap_or_default();
    let recipes = files
        .iter()
        .filter(|f| f.extension().is_some_and(|e| e == "yaml"));
    for name in recipes.filter_map(|f| f.file_stem()?.to_str()) {
        print(&format!("{}\n", plain(name)));
    }
}
