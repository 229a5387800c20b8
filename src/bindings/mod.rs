//! What Python sees: one submodule of `rootling._core` per domain. Registration only.

mod arrow;
mod choices;
mod compare;
mod convert;
mod curves;
mod decide;
mod errors;
mod grades;
mod layout;
mod models;
mod plan;
mod pool;
mod prediction;
mod rates;
mod records;
mod report;
mod responses;
mod run;
mod seasons;
mod steps;
mod steps_time;
mod tables;
mod trial;
mod units;
mod watch;

use pyo3::prelude::*;

type Register = fn(&Bound<'_, PyModule>) -> PyResult<()>;

const DOMAINS: [(&str, Register); 17] = [
    ("choices", choices::register),
    ("compare", compare::register),
    ("curves", curves::register),
    ("decide", decide::register),
    ("grades", grades::register),
    ("layout", layout::register),
    ("models", models::register),
    ("plan", plan::register),
    ("rates", rates::register),
    ("report", report::register),
    ("responses", responses::register),
    ("seasons", seasons::register),
    ("steps", steps::register),
    ("tables", tables::register),
    ("trial", trial::register),
    ("units", units::register),
    ("watch", watch::register),
];

/// The compiled core.
#[pymodule]
fn _core(module: &Bound<'_, PyModule>) -> PyResult<()> {
    pool::at_home();
    let py = module.py();
    let loaded = py.import("sys")?.getattr("modules")?;
    for (domain, register) in DOMAINS {
        let name = format!("rootling._core.{domain}");
        let part = PyModule::new(py, &name)?;
        register(&part)?;
        module.add(domain, &part)?;
        loaded.set_item(name, part)?;
    }
    Ok(())
}
