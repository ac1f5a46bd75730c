//! The command: parse, call, print, exit code.
//!
//! Exit codes: 0 done; 1 not done, and the message says why; 2 the command
//! line was not understood; 3 done, with `--strict` and lines put aside.

use clap::Parser;
use std::io::Write;
use std::process::ExitCode;
use tallycoat::run;
use tallycoat::settings::command::{Cli, Command};

mod progress;

/// What a strict run exits with where lines were put aside.
const PUT_ASIDE: u8 = 3;

/// The only place that prints, and the only lint exception for it.
#[allow(clippy::print_stderr)]
fn main() -> ExitCode {
    let cli = Cli::parse();
    match answer(&cli.command) {
        Ok(answer) => {
            // A reader that has seen enough (`| head`) is no error.
            let _ = std::io::stdout().write_all(answer.text.as_bytes());
            if answer.strict && answer.quarantined > 0 {
                return ExitCode::from(PUT_ASIDE);
            }
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("tallycoat: {error}");
            ExitCode::FAILURE
        }
    }
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
            let done = progress::shown(|p| run::review(args, p))?;
            Ok(Answer {
                text: lines(&done.summary),
                quarantined: done.quarantined,
                strict: args.strict,
            })
        }
        Command::Check(args) => {
            let done = progress::shown(|p| run::check(args, p))?;
            Ok(Answer {
                text: done.text,
                quarantined: done.quarantined,
                strict: args.strict,
            })
        }
        Command::Map(args) => said(run::map(args)?),
        Command::Recalibrate(args) => said(progress::shown(|p| run::recalibrate(args, p))?),
        Command::Quote(args) => said(progress::shown(|p| run::quote(args, p))?),
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
