//! How a page is made of its template.

use std::io::Write;

use minijinja::Environment;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use serde::Serialize;

use super::RenderError;

/// The page of a template, whose lines of commands leave no lines behind. What is put into it is escaped.
pub fn render(template: &str, page: impl Serialize) -> Result<Vec<u8>, RenderError> {
    let mut bytes = Vec::new();
    render_to(&mut bytes, template, page)?;
    Ok(bytes)
}

/// The same, written as it is made.
pub fn render_to(to: &mut dyn Write, template: &str, page: impl Serialize) -> Result<(), RenderError> {
    render_templates(to, &[("page.html", template)], page)
}

/// The page of the last of some templates, which may be built on the others.
#[cfg(feature = "page")]
pub fn render_with(templates: &[(&str, &str)], page: impl Serialize) -> Result<Vec<u8>, RenderError> {
    let mut bytes = Vec::new();
    render_templates(&mut bytes, templates, page)?;
    Ok(bytes)
}

fn render_templates(
    to: &mut dyn Write,
    templates: &[(&str, &str)],
    page: impl Serialize,
) -> Result<(), RenderError> {
    let syntax = SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?;
    let mut environment = Environment::new();
    environment.set_syntax(syntax);
    for (name, template) in templates {
        environment.add_template(name, template)?;
    }
    let name = templates.last().map_or("", |(name, _)| name);
    environment.get_template(name)?.render_captured_to(Serde(page), to)?;
    Ok(())
}
