//! How a page is made of its template.

use minijinja::Environment;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use serde::Serialize;

use super::RenderError;

/// The page of a template, whose lines of commands leave no lines behind. What is put into it is escaped.
pub fn render(template: &str, page: impl Serialize) -> Result<Vec<u8>, RenderError> {
    const NAME: &str = "page.html";
    let syntax = SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?;
    let mut environment = Environment::new();
    environment.set_syntax(syntax);
    environment.add_template(NAME, template)?;
    Ok(environment.get_template(NAME)?.render(Serde(page))?.into_bytes())
}
