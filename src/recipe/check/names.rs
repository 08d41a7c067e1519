//! Names that hide others.
//!
//! Never in here: what a name means (see `scope`). Changes when names may be shared otherwise.

use crate::recipe::cursor::At;
use crate::recipe::scope::Id;
use crate::recipe::yaml::escape;
use crate::text::Code;

use super::Checker;

impl Checker<'_> {
    /// Reports that the name at a place hides another one.
    pub(super) fn hides(&mut self, at: &At<'_>, message: String, hidden: Id) {
        let help = format!("rename one of the two; {}", self.whose(at, hidden));
        self.findings
            .push(at.finding(Code::HiddenName, message, help));
    }

    /// Whose name it is, and where it stands.
    pub(super) fn whose(&self, near: &At<'_>, id: Id) -> String {
        let name = self.scopes.name(id);
        let (what, pointer) = if self.scopes.is_setting(id) {
            let declared = self.declared_at.get(&id).cloned();
            let broken = || format!("/settings/{}", escape(name));
            ("setting", declared.unwrap_or_else(broken))
        } else if let Some(pointer) = self.declared_at.get(&id) {
            let row = pointer.ends_with("/each");
            (if row { "row" } else { "step" }, pointer.clone())
        } else {
            return format!("the other one is `{name}`");
        };
        let document = near.document;
        let (source, _) = document.source_of(&pointer);
        let line = source.place(document.key_span(&pointer).start).line;
        let (here, _) = document.source_of(&near.pointer);
        let file = match source.name == here.name {
            true => String::new(),
            false => format!(" of {}", source.name),
        };
        format!("the other one is the {what} `{name}` in line {line}{file}")
    }
}
