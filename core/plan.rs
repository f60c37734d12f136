//! The plan of one job: procedure, family, shop and job facts, with every number settled.
//!
//! A plan is built from texts alone, and keeps them: the same code builds it again from the snapshot in a job's folder,
//! whatever has become of the files since.

use std::sync::Arc;

use indexmap::{IndexMap, IndexSet};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::diagnostic::{Code, Diagnostic, Problems};
use crate::form::{Family, Form, Recognised, recognise};
use crate::library::{Files, Instrument, Library, Shop};
use crate::procedure::{Children, Procedure, Step};
use crate::quantity::{Purpose, Quantity, Style, Units};
use crate::script::Scripts;
use crate::sheet::Sheet;
use crate::source::{At, Source};
use crate::value::Value;

mod build;
mod facts;
mod shop;

pub use build::{JobSheet, build};
