//! What renderings hold: the verdict, every step, what failed; and that no text of a record breaks out of its form.

mod answered;
mod drawn;
mod made;
mod overruled;
mod pictured;
mod plots;
mod reading;
mod refusing;
mod rows;
mod shaped;
mod uncertain;
mod words;
