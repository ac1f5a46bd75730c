//! A shop's own questions with their answers, as they are shown: nothing here
//! is judged.

pub use crate::measures::own::{Answer, AnswerColumn, Kind, Value};

use crate::measures::own::Refusal;
use crate::settings::questions::{Question, Unreadable};

/// Why a question has no answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unanswered {
    /// Its file cannot be read.
    #[error(transparent)]
    Unreadable(#[from] Unreadable),
    /// It may not be asked, or the engine cannot answer it.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// The review is of tables that were counted elsewhere.
    #[error("the tables that it asks are not here: this review is of counts made elsewhere")]
    NotHere,
}

/// A question and its answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// Its name: letters, digits, hyphens and underscores.
    pub name: String,
    /// The file that asks it.
    pub file: String,
    /// What it calls itself.
    pub title: String,
    /// What it says of itself; may be empty.
    pub description: String,
    /// What was asked; empty where the file cannot be read.
    pub sql: String,
    /// The answer.
    pub answer: Result<Answer, Unanswered>,
}

/// Puts a question to `answer`.
pub fn asked(question: Question, answer: impl Fn(&str) -> Result<Answer, Unanswered>) -> Asked {
    let Question { name, file, text } = question;
    match text {
        Ok(text) => Asked {
            title: text.title,
            description: text.description,
            answer: answer(&text.sql),
            sql: text.sql,
            name,
            file,
        },
        Err(why) => Asked {
            title: name.clone(),
            description: String::new(),
            sql: String::new(),
            answer: Err(why.into()),
            name,
            file,
        },
    }
}
