#pragma once

namespace earshot {

/// Installs handlers for SIGINT and SIGTERM that only set a flag, so that work in progress can
/// stop at a safe point and remove its temporary files. A second signal ends the process at once.
void install_interrupt_handlers();

/// True once a signal has asked the program to stop.
[[nodiscard]] bool interrupted() noexcept;

/// Forgets that the program was asked to stop, so that what had been found by then can be written.
/// The next signal asks again.
void forget_interrupt() noexcept;

/// Throws Error(ExitCode::interrupted) once a signal has asked the program to stop.
void throw_if_interrupted();

} // namespace earshot
