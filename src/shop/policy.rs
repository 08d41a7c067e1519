//! Who may do what. Deny by default: what is done in a person's name needs a [`Permit`], and only this file makes one.
//!
//! Never in here: what is then done. Changes when a deed is added.

use crate::recipe::schema::nearest;

use super::folder::{Person, Shop};

/// What is done in a person's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Walking through an approved recipe.
    Run,
    /// Walking through a recipe that is not approved.
    Trial,
    /// Approving a revision of a recipe.
    Approve,
    /// Withdrawing an approval.
    Withdraw,
    /// Signing a record after the technician.
    Countersign,
    /// Adding a note or a correction to a sealed record.
    Amend,
    /// Entering upkeep or a new certificate of an instrument.
    Upkeep,
}

impl Deed {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Run,
        Self::Trial,
        Self::Approve,
        Self::Withdraw,
        Self::Countersign,
        Self::Amend,
        Self::Upkeep,
    ];

    /// The word in `may` of `shop.yaml`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Run => "run",
            Self::Trial => "trial",
            Self::Approve => "approve",
            Self::Withdraw => "withdraw",
            Self::Countersign => "countersign",
            Self::Amend => "amend",
            Self::Upkeep => "upkeep",
        }
    }

    /// The roles that may do it in a shop that says nothing of it.
    #[must_use]
    pub fn usual(self) -> &'static [&'static str] {
        match self {
            Self::Run => &["technician"],
            Self::Trial => &["technician", "author"],
            Self::Approve | Self::Withdraw | Self::Countersign => &["reviewer"],
            Self::Amend => &["technician", "reviewer"],
            Self::Upkeep => &["technician", "author", "reviewer"],
        }
    }
}

/// That a person may do something, from a day's point of view. Only [`permit`] makes one.
#[derive(Clone, Debug)]
pub struct Permit {
    person: Person,
    deed: Deed,
}

impl Permit {
    /// Who.
    #[must_use]
    pub fn person(&self) -> &Person {
        &self.person
    }

    /// What.
    #[must_use]
    pub fn deed(&self) -> Deed {
        self.deed
    }
}

/// Whether a person may do something today.
///
/// # Errors
/// Why not: somebody unknown, who left, or whose roles don't allow it.
pub fn permit(
    shop: &Shop,
    people: &[Person],
    by: &str,
    deed: Deed,
    today: &str,
) -> Result<Permit, String> {
    let Some(person) = people.iter().find(|p| p.id == by) else {
        let help = match nearest(by, people.iter().map(|p| p.id.as_str())) {
            Some(near) => format!("the nearest id is `{near}`"),
            None => "add them with `stepwell people add`".to_owned(),
        };
        return Err(format!("there is no person `{by}` in the register; {help}"));
    };
    if let Some(left) = &person.left
        && left.as_str() <= today
    {
        return Err(format!("`{by}` left on {left}"));
    }
    let allowed = shop.allowed(deed);
    if person.roles.iter().any(|r| allowed.iter().any(|a| a == r)) {
        return Ok(Permit {
            person: person.clone(),
            deed,
        });
    }
    let who = if allowed.is_empty() {
        "nobody".to_owned()
    } else {
        format!("only {}", allowed.join(" or "))
    };
    Err(format!(
        "`{by}` is {}; in this shop {who} may {} (`may` in shop.yaml)",
        person.roles.join(" and "),
        said(deed)
    ))
}

fn said(deed: Deed) -> &'static str {
    match deed {
        Deed::Run => "run a recipe",
        Deed::Trial => "run a trial",
        Deed::Approve => "approve a recipe",
        Deed::Withdraw => "withdraw an approval",
        Deed::Countersign => "countersign a record",
        Deed::Amend => "amend a record",
        Deed::Upkeep => "enter upkeep and calibrations",
    }
}
