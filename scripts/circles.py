#!/usr/bin/env python3
"""Tells whether any files of src use each other in a circle; exits 1 if they do.

Usage: scripts/circles.py [--graph]   --graph prints every arrow, one a line
A name that is used is looked up where it is defined, through the re-exports of mod.rs.
"""
import pathlib
import re
import sys

SRC = pathlib.Path(__file__).resolve().parent.parent / "src"
ITEM = re.compile(r"^\s*pub(?:\([^)]*\))?\s+(?:const\s+)?(?:struct|enum|trait|fn|type|const|static|union)\s+(\w+)", re.M)
USE = re.compile(r"\b(crate|super|self)((?:::\w+)*)::(\{[^{}]*\}|\w+|\*)")


def module_of(file):
    parts = list(file.relative_to(SRC).with_suffix("").parts)
    return tuple(parts[:-1] if parts[-1] in ("mod", "lib", "main") else parts)


def without_tests(text):
    text = re.sub(r"//[^\n]*", "", text)
    return text.split("#[cfg(test)]\nmod tests")[0]


def main():
    files = {module_of(file): file for file in SRC.rglob("*.rs") if file.name != "main.rs"}
    texts = {module: without_tests(file.read_text()) for module, file in files.items()}
    items = {module: set(ITEM.findall(text)) for module, text in texts.items()}

    def home(module, name, seen=()):
        """The file that defines a name that a module offers."""
        if module in seen or module not in texts:
            return None
        if name in items[module]:
            return module
        if module + (name,) in files:
            return module + (name,)
        for word, path, names in re.findall(r"pub use (?:(self|crate)::)?((?:\w+::)*)(\{[^}]*\}|\w+|\*);", texts[module]):
            offered = [one.strip().split(" as ")[-1] for one in names.strip("{}").split(",")]
            original = {one.strip().split(" as ")[-1]: one.strip().split(" as ")[0] for one in names.strip("{}").split(",")}
            if name in offered or names == "*":
                base = () if word == "crate" else module
                target = base + tuple(part for part in path.split("::") if part)
                found = home(target, original.get(name, name), seen + (module,))
                if found:
                    return found
        return None

    arrows = {module: set() for module in files}
    for module, text in texts.items():
        is_folder = files[module].name in ("mod.rs", "lib.rs")
        if is_folder:
            # A mod.rs only offers what its files define; using it means using them.
            text = re.sub(r"pub use [^;]*;", "", text)
        for word, path, names in USE.findall(text):
            parts = [part for part in path.split("::") if part]
            base = {"crate": (), "self": module}.get(word)
            if base is None:
                base = module if is_folder else module
                base = base[:-1] if not is_folder else base[:-1]
            while parts and parts[0] == "super":
                base, parts = base[:-1], parts[1:]
            target = tuple(base) + tuple(parts)
            for one in names.strip("{}").split(","):
                name = one.strip().split(" as ")[0].split("::")[0]
                if not name:
                    continue
                if name in ("self", "*"):
                    found = target if target in files else None
                else:
                    found = home(target, name)
                    # A method or variant of a type: the type's file is meant.
                    if found is None and target:
                        found = home(target[:-1], target[-1])
                if found and found != module:
                    arrows[module].add(found)
    if "--graph" in sys.argv:
        for module in sorted(arrows):
            for other in sorted(arrows[module]):
                print("::".join(module) or "lib", "->", "::".join(other) or "lib")
        return 0

    # Tarjan's components: one of more than a file is a circle.
    index, low, stack, on, circles = {}, {}, [], set(), []

    def visit(node):
        index[node] = low[node] = len(index)
        stack.append(node)
        on.add(node)
        for other in arrows[node]:
            if other not in index:
                visit(other)
                low[node] = min(low[node], low[other])
            elif other in on:
                low[node] = min(low[node], index[other])
        if low[node] == index[node]:
            component = []
            while True:
                one = stack.pop()
                on.discard(one)
                component.append(one)
                if one == node:
                    break
            if len(component) > 1:
                circles.append(component)

    sys.setrecursionlimit(10_000)
    for node in sorted(arrows):
        if node not in index:
            visit(node)
    for circle in circles:
        print("circle:", ", ".join(sorted("::".join(one) or "lib" for one in circle)))
    print(f"{len(files)} files, {sum(map(len, arrows.values()))} arrows, {len(circles)} circles")
    return 1 if circles else 0


if __name__ == "__main__":
    sys.exit(main())
