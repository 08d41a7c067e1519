//! Signing in a person's name: with their key where they have one.
//!
//! Never in here: where keys lie and how a passphrase is asked (see `cli`). Changes when signing asks for more.

use crate::shop::{Permit, Shop};
use crate::trust::{PublicKey, SecretKey, Signature, Statement};

use super::AppError;

/// Signs a statement; gives nothing where the person has no key.
pub type Sign<'s> = dyn FnMut(Statement) -> Result<Option<Signature>, AppError> + 's;

/// Refuses what must be signed to somebody without a key.
///
/// # Errors
/// A shop that requires signatures, and a person without a key.
pub fn may_be_unsigned(shop: &Shop, permit: &Permit) -> Result<(), AppError> {
    let person = permit.person();
    if shop.signatures_since.is_some() && person.public_key.is_none() {
        return Err(AppError::new(format!(
            "this shop requires signatures (`signatures` in shop.yaml), and `{0}` has no key; `stepwell people key {0}` makes one",
            person.id
        )));
    }
    Ok(())
}

/// That a key is the one that the register has for a person now.
///
/// # Errors
/// Another key, with what to do about it.
pub fn own_key(permit: &Permit, key: &PublicKey) -> Result<(), AppError> {
    let person = permit.person();
    let Some(own) = &person.public_key else {
        return Ok(());
    };
    let is = |other: &PublicKey| other.line() == key.line();
    if is(own) {
        return Ok(());
    }
    let what = if person.former_keys.iter().any(is) {
        "is a former one of"
    } else {
        "is not the one that people.yaml has for"
    };
    Err(AppError::new(format!(
        "the key {} {what} `{1}`, whose key is {2}; name that one with `--key FILE`, or have this one entered with `stepwell people key {1} --public FILE.pub`",
        key.fingerprint(),
        person.id,
        own.fingerprint()
    )))
}

/// Signs with a key, which must be the person's own.
///
/// # Errors
/// Another key than the register has for the person.
pub fn sign_with(
    permit: &Permit,
    key: &SecretKey,
    statement: Statement,
    namespace: &str,
) -> Result<Signature, AppError> {
    own_key(permit, &key.public())?;
    statement
        .sign(key, namespace)
        .map_err(|fault| AppError::new(fault.to_string()))
}
