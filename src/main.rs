//! The program's door: hands over to the library and ends with its exit code.

fn main() -> std::process::ExitCode {
    stepwell::cli::main()
}
