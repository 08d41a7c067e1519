//! What makes stored things trustworthy: digests over canonical JSON, keys and signatures, hash-linked ledgers.
//!
//! Never in here: what is digested, signed or entered. Changes when another proof is kept.

mod canonical;
mod digest;
mod key;
mod ledger;
mod signature;

pub use canonical::canonical_text;
pub use digest::{canonical, canonical_without, digest_bytes, digest_json};
pub use key::{KeyFault, KeySeed, PublicKey, SecretKey};
pub use ledger::{Act, Entry, Ledger, LedgerFault, MAX_LEDGER, Tail, is_before};
pub use signature::{APPROVAL, RECORD, Signature, Statement};
