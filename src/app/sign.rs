//! Signing in a person's name: with their key where they have one.
//!
//! Never in here: where keys lie and how a passphrase is asked (see `cli`). Changes when signing asks for more.

use crate::shop::{Permit, Shop};
use crate::trust::{SecretKey, Signature, Statement};

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
    let person = permit.person();
    if person.public_key.as_ref().map(|k| k.line()) != Some(key.public().line()) {
        return Err(AppError::new(format!(
            "the key {} is not the one that people.yaml has for `{}`",
            key.public().fingerprint(),
            person.id
        )));
    }
    statement
        .sign(key, namespace)
        .map_err(|fault| AppError::new(fault.to_string()))
}
