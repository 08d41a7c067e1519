//! What renderings hold: the verdict, every step, what failed; and that no text of a record breaks out of its form.

mod made;
mod reading;
mod refusing;
