//! The command: parse, call, print, exit code.
//!
//! Exit codes: 0 done; 1 not done, and the message says why; 2 the command
//! line was not understood; 3 done, with `--strict` and lines put aside.

use clap::Parser;
use std::io::Write;
use std::process::ExitCode;
use tallycoat::run::{self, Progress};
use tallycoat::settings::command::{Cli, Command};

mod heap;
mod progress;

/// What a strict run exits with where lines were put aside.
const PUT_ASIDE: u8 = 3;

fn main() -> ExitCode {
    let cli = Cli::parse();
    heap::share(&cli.command.folders());
    match answer(&cli.command) {
        Ok(answer) => {
            if let Err(e) = say(&answer.text) {
                return complain(format_args!(
                    "standard output: cannot be written to ({e}). What was to be printed is lost; \
                     files that the command wrote are in place."
                ));
            }
            if answer.strict && answer.quarantined > 0 {
                return ExitCode::from(PUT_ASIDE);
            }
            ExitCode::SUCCESS
        }
        Err(error) => complain(format_args!("{error}")),
    }
}

/// Prints. A reader that has seen enough (`| head`) is no error.
fn say(text: &str) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        done => done,
    }
}

/// Says what went wrong, as far as anybody listens.
fn complain(what: std::fmt::Arguments<'_>) -> ExitCode {
    let _ = writeln!(std::io::stderr(), "tallycoat: {what}");
    ExitCode::FAILURE
}

/// Runs `work`, showing how far it is, and gives memory back between its stages.
fn shown<T>(work: impl FnOnce(&mut dyn FnMut(Progress)) -> T) -> T {
    progress::shown(|show| {
        work(&mut |p| {
            heap::give_back(&p);
            show(p);
        })
    })
}

/// What a command has to say.
struct Answer {
    text: String,
    quarantined: u64,
    strict: bool,
}

fn answer(command: &Command) -> Result<Answer, run::Error> {
    match command {
        Command::Review(args) => {
            let done = shown(|p| run::review(args, p))?;
            Ok(Answer {
                text: lines(&done.summary),
                quarantined: done.quarantined,
                strict: args.strict,
            })
        }
        Command::Check(args) => {
            let done = shown(|p| run::check(args, p))?;
            Ok(Answer {
                text: done.text,
                quarantined: done.quarantined,
                strict: args.strict,
            })
        }
        Command::Map(args) => said(run::map(args)?),
        Command::Recalibrate(args) => said(shown(|p| run::recalibrate(args, p))?),
        Command::Quote(args) => said(shown(|p| run::quote(args, p))?),
        Command::Cells(args) => said(shown(|p| run::cells(args, p))?),
        Command::Invent(args) => Ok(Answer {
            text: lines(&run::invent(args)?),
            quarantined: 0,
            strict: false,
        }),
    }
}

/// Text alone.
fn said(text: String) -> Result<Answer, run::Error> {
    Ok(Answer {
        text,
        quarantined: 0,
        strict: false,
    })
}

fn lines(all: &[String]) -> String {
    all.iter().map(|l| format!("{l}\n")).collect()
}
