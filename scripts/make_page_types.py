"""Write the types of the page's answers for its scripts, from the models of the server.

Usage: ``python scripts/make_page_types.py`` (writes src/bondwright/page/static/js/wire.d.ts)
"""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from bondwright.page import (
    wire,
    wire_describe,
    wire_earth,
    wire_field,
    wire_lessons,
    wire_mail,
    wire_people,
    wire_tables,
)

ROOT = Path(__file__).resolve().parents[1]
MODULES = (wire, wire_describe, wire_earth, wire_field, wire_lessons, wire_mail, wire_people,
           wire_tables)  # fmt: skip
TARGET = ROOT / "src" / "bondwright" / "page" / "static" / "js" / "wire.d.ts"


def main() -> None:
    """Write the file."""
    TARGET.write_text(types(), encoding="utf-8")
    print(f"wrote {TARGET.relative_to(ROOT)}")


def types() -> str:
    """Return the whole file."""
    models = [
        model
        for module in MODULES
        for _, model in inspect.getmembers(module, inspect.isclass)
        if issubclass(model, BaseModel)
        and model.__module__ == module.__name__
        and not model.__name__.startswith("_")
    ]
    head = "// Made by scripts/make_page_types.py from the server's models; don't edit it here.\n"
    return head + "".join(_interface(model.model_json_schema()) for model in models)


def _interface(schema: dict[str, Any]) -> str:
    if "$ref" in schema:  # a model with itself inside
        schema = schema["$defs"][str(schema["$ref"]).rpartition("/")[2]]
    rows = [f"  {name}: {_type(field)};" for name, field in schema.get("properties", {}).items()]
    about = schema.get("description", "").splitlines()[0]
    body = "\n".join(rows)
    return f"\n/** {about} */\nexport interface {schema['title']} {{\n{body}\n}}\n"


def _type(field: dict[str, Any]) -> str:
    if "$ref" in field:
        return str(field["$ref"]).rpartition("/")[2]
    if "const" in field:
        return f'"{field["const"]}"' if isinstance(field["const"], str) else str(field["const"])
    if "enum" in field:
        return " | ".join(f'"{value}"' for value in field["enum"])
    if "anyOf" in field:
        return " | ".join(_type(one) for one in field["anyOf"])
    match field.get("type"):
        case "array" if "prefixItems" in field:
            return f"[{', '.join(_type(one) for one in field['prefixItems'])}]"
        case "array":
            return f"Array<{_type(field['items'])}>"
        case "object" if field.get("additionalProperties") is True:
            return "Record<string, any>"
        case "object" if isinstance(field.get("additionalProperties"), dict):
            return f"Record<string, {_type(field['additionalProperties'])}>"
        case "integer" | "number":
            return "number"
        case "boolean":
            return "boolean"
        case "null":
            return "null"
        case _:
            return "string"


if __name__ == "__main__":
    main()
