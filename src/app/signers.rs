//! Whose signatures hold: people with their keys and roles, and what the shop asks for.
//!
//! Never in here: what is signed of a record (see `proof`). Changes when a signature rests on something new.

use std::collections::{BTreeMap, HashMap};

use crate::host::Host;
use crate::shop::{ApprovalAct, Deed, Paths, Person, Shop};
use crate::trust::{APPROVAL, Entry, PublicKey, Signature};

use super::AppError;
use super::open::{read_people_of, read_shop_of};

/// Why a signature does not hold.
#[derive(Debug)]
pub(super) enum Doubt {
    /// It is wrong.
    Bad(String),
    /// It can't be told.
    Unknown(String),
}

/// What can be told of a signature where nobody knows whose key it is: it fits what was signed and the key that it carries.
///
/// # Errors
/// Why it does not.
pub(super) fn sound(signature: &Signature, namespace: &str) -> Result<String, String> {
    let statement = &signature.statement;
    let by = &statement.by;
    let key = signature
        .sound(namespace)
        .map_err(|why| format!("the signature of `{by}`: {why}"))?;
    Ok(format!(
        "{by} ({}): valid for key {}, which is not known here",
        statement.role,
        key.fingerprint()
    ))
}

/// The people of a shop, and its rules about signing.
#[derive(Debug)]
pub(super) struct Signers {
    people: HashMap<String, Person>,
    shop: Shop,
}

impl Signers {
    /// Reads them.
    ///
    /// # Errors
    /// Those of the system; people.yaml or shop.yaml that can't be read.
    pub(super) fn read(host: &dyn Host, paths: &Paths) -> Result<Self, AppError> {
        let people = read_people_of(host, paths)?;
        Ok(Self {
            people: people.into_iter().map(|p| (p.id.clone(), p)).collect(),
            shop: read_shop_of(host, paths)?,
        })
    }

    /// The names of people by their ids.
    pub(super) fn names(&self) -> BTreeMap<String, String> {
        let named = self.people.values().map(|p| (p.id.clone(), p.name.clone()));
        named.filter(|(_, name)| !name.is_empty()).collect()
    }

    /// Whether what was done at that time had to be signed.
    pub(super) fn must_sign(&self, at: &str) -> bool {
        self.shop.requires_signature(at.get(..10).unwrap_or(at))
    }

    /// Whether a signature is that of the person it names, by a key that they have or had.
    pub(super) fn holds(&self, signature: &Signature, namespace: &str) -> Result<(), Doubt> {
        let by = &signature.statement.by;
        let unknown = |why: String| match sound(signature, namespace) {
            Ok(told) => Doubt::Unknown(format!("{why}; {told}")),
            Err(broken) => Doubt::Bad(format!("{why}; {broken}")),
        };
        let Some(person) = self.people.get(by) else {
            return Err(unknown(format!("`{by}` is not in people.yaml")));
        };
        let keys: Vec<PublicKey> = person.keys();
        if keys.is_empty() {
            return Err(unknown(format!("people.yaml has no key of `{by}`")));
        }
        signature
            .check(&keys, namespace)
            .map_err(|why| Doubt::Bad(format!("the signature of `{by}`: {why}")))?;
        let at = signature.statement.at.get(..10).unwrap_or_default();
        match &person.left {
            Some(left) if left.as_str() <= at => Err(Doubt::Bad(format!(
                "`{by}` signed on {at}, after they left on {left}"
            ))),
            _ => Ok(()),
        }
    }

    /// Whether a person's roles allow a deed; who had another role then can't be told from people.yaml of today.
    pub(super) fn may(&self, by: &str, deed: Deed) -> Result<(), Doubt> {
        let Some(person) = self.people.get(by) else {
            return Err(Doubt::Unknown(format!("`{by}` is not in people.yaml")));
        };
        let allowed = self.shop.allowed(deed);
        if person.roles.iter().any(|r| allowed.contains(r)) {
            return Ok(());
        }
        Err(Doubt::Unknown(format!(
            "by people.yaml and shop.yaml of today `{by}` may not {}",
            deed.word()
        )))
    }

    /// What can't be told is wrong where signatures are required.
    pub(super) fn strictly(&self, at: &str, held: Result<(), Doubt>) -> Result<(), Doubt> {
        match held {
            Err(Doubt::Unknown(why)) if self.must_sign(at) => Err(Doubt::Bad(why)),
            other => other,
        }
    }

    /// Whether a line of a ledger of approvals is signed as it has to be. The signature is about that act in that place.
    pub(super) fn approval(&self, line: &Entry<ApprovalAct>) -> Result<(), Doubt> {
        self.strictly(&line.at, self.approved(line))
    }

    fn approved(&self, line: &Entry<ApprovalAct>) -> Result<(), Doubt> {
        let of = line.act.of();
        let Some(signature) = &of.signature else {
            return if self.must_sign(&line.at) {
                let why = format!(
                    "`{}` did not sign it, and this shop requires it (`signatures` in shop.yaml); have it approved again",
                    of.by
                );
                Err(Doubt::Bad(why))
            } else {
                Ok(())
            };
        };
        let statement = &signature.statement;
        let about = line
            .act
            .signed_digest(&line.bench, line.previous.as_deref());
        let fits = statement.by == of.by
            && statement.role == line.act.role()
            && statement.at == line.at
            && Ok(&statement.digest) == about.as_ref();
        if !fits {
            let why = format!("the signature of `{}` is about something else", of.by);
            return Err(Doubt::Bad(why));
        }
        self.holds(signature, APPROVAL)?;
        self.may(&of.by, line.act.deed())
    }
}
