fn main() -> std::process::ExitCode {
    standpipe::cli::run()
}
