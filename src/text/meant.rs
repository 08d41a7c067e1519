//! Tags and ids as people type and scan them: letter case counts only where two differ in nothing else.
//!
//! Never in here: what is near to a mistyped one. Changes when ids are told apart otherwise.

/// The entry that is meant by a tag or id: the one that is spelled so, else the only one that differs in letter case alone.
pub fn meant<T>(
    all: impl Iterator<Item = T> + Clone,
    typed: &str,
    id: impl Fn(&T) -> &str,
) -> Option<T> {
    if let Some(exact) = all.clone().find(|one| id(one) == typed) {
        return Some(exact);
    }
    let typed = typed.to_lowercase();
    let mut alike = all.filter(|one| id(one).to_lowercase() == typed);
    match (alike.next(), alike.next()) {
        (Some(one), None) => Some(one),
        _ => None,
    }
}
