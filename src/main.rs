//! The program's door: hands over to the library and ends with its exit code.

/// Reading recipes is mostly small allocations; this allocator takes a quarter of the time off.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> std::process::ExitCode {
    stepwell::cli::main()
}
