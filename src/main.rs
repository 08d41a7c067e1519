//! The program's door: hands the arguments to the library and ends with its exit code.

fn main() {}
