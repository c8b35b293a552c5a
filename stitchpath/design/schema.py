"""The JSON Schema of a design file, with what each key means.

A key is explained by the text below it in the model. These texts are read only when the schema is
asked for: to read them takes as long as to build the model.
"""

import ast
import inspect
from itertools import pairwise
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core.core_schema import ModelSchema

from stitchpath.design import model
from stitchpath.design.model import Design

__all__ = ["design_schema"]


def design_schema() -> dict[str, Any]:
    """Write the JSON Schema (draft 2020-12) of a design file."""
    schema = Design.model_json_schema(schema_generator=_Explained)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "stitchpath design",
    }


class _Explained(GenerateJsonSchema):
    """Adds to each key of a table what is written below it in the model."""

    _texts: dict[str, dict[str, str]] | None = None

    def model_schema(self, schema: ModelSchema) -> JsonSchemaValue:
        """Write the schema of one table."""
        if self._texts is None:
            self._texts = _texts(inspect.getsource(model))
        table = super().model_schema(schema)
        for kind in reversed(schema["cls"].__mro__):
            for key, text in self._texts.get(kind.__name__, {}).items():
                table["properties"][key]["description"] = text
        return table


def _texts(source: str) -> dict[str, dict[str, str]]:
    """Find the text below each key, by the class and the key."""
    return {
        table.name: {
            key.target.id: inspect.cleandoc(below.value.value)
            for key, below in pairwise(table.body)
            if isinstance(key, ast.AnnAssign)
            and isinstance(key.target, ast.Name)
            and isinstance(below, ast.Expr)
            and isinstance(below.value, ast.Constant)
            and isinstance(below.value.value, str)
        }
        for table in ast.parse(source).body
        if isinstance(table, ast.ClassDef)
    }
