//! `serve`: the page for the bay.

use std::sync::Arc;

use super::Exit;
use super::args::Serve;
use super::context::{Context, say};
use super::job_folder::about;
use super::reader;
use standpipe_diagnostic::{Code, Problems, has_errors};
use standpipe_job::plan::Parsed;
use standpipe_library::{Kind, Shop};
use standpipe_serve::{Books, Certificate, Reader, Settings};

const SCHEMA: &str = "standpipe.serve/1";

pub fn run(args: &Serve, context: &Context) -> Exit {
    super::signals::watch();
    if let Err(fault) = reader::refuse_at_pages(args) {
        context.failed(SCHEMA, &[*fault]);
        return Exit::Usage;
    }
    if !args.jobs.is_dir() {
        let problem = about(&args.jobs, Code::UnreadableFile, format!("there is no folder {}", args.jobs.display()));
        context.failed(SCHEMA, &[problem.help("name the folder with the job files")]);
        return Exit::Usage;
    }
    let mut problems = Problems::new();
    let (_, source) = context.files(None, &mut problems);
    let units = context.units().0;
    let shop = source.and_then(|source| Shop::read(&source, &units, &mut problems));
    let Some(shop) = shop.filter(|shop| !shop.people.is_empty() && !has_errors(&problems)) else {
        if !has_errors(&problems) {
            let message = "whose workshop is it? Pages are answered by people, and the shop file names them";
            problems.push(about(&args.jobs, Code::WrongArguments, message).help("add `--shop FILE`"));
        }
        context.failed(SCHEMA, &problems);
        return Exit::Usage;
    };
    context.report(&problems);
    let common = context.common.clone();
    let reader = args.reader.clone().map(|path| {
        let (common, said) = (common.clone(), args.said.clone());
        let name = reader::name(&path);
        Reader { name, follow: Arc::new(move |job| reader::followed(&said, &path, job, &Context::new(&common))) }
    });
    let (of, shop_file) = (common.clone(), common.shop.clone());
    let books = Books {
        roles: accepting(&context.parsed(&mut Problems::new())),
        read: Arc::new(move |problems| Context::new(&of).parsed(problems)),
        shop: shop_file,
        style: shop.style.clone(),
    };
    let settings = Settings {
        folder: args.jobs.clone(),
        listen: args.listen,
        tls: match (&args.certificate, &args.key) {
            (Some(certificate), Some(key)) => {
                Some(Certificate::Given { certificate: certificate.clone(), key: key.clone() })
            }
            _ => args.tls.then_some(Certificate::Made),
        },
        names: args.name.clone(),
        devices: args.devices.clone().unwrap_or_else(|| args.jobs.join("devices.json")),
        people: shop.people.into_iter().map(|(id, person)| (id, person.name, person.roles)).collect(),
        shop: shop.title,
        pair: args.pair,
        reader,
        // A context belongs to one thread; what it is made of does not.
        read: Arc::new(move |job, problems| Context::new(&common).inputs(job, problems)),
        books,
        say: Box::new(say),
    };
    match standpipe_serve::serve(settings) {
        Ok(()) => Exit::Well,
        Err(fault) => {
            let problem = about(&args.jobs, Code::UnreadableFile, fault);
            context.failed(SCHEMA, &[problem.help("choose another address with `--listen`, or look at the file")]);
            Exit::Usage
        }
    }
}

/// Roles in which somebody may accept something in one procedure or another.
fn accepting(parsed: &Parsed) -> Vec<String> {
    let mut quiet = Problems::new();
    let procedures = parsed.library.documents(Kind::Procedure).filter_map(|it| parsed.procedure(it, &mut quiet));
    let mut roles: Vec<String> = procedures.flat_map(|procedure| procedure.may_accept).map(|role| role.value).collect();
    roles.sort();
    roles.dedup();
    roles
}
