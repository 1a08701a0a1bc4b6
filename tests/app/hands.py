"""What a maker's hands do on a drawn page: find a field, type into a grid, turn a table into fields."""

from __future__ import annotations

from typing import Any

from streamlit.testing.v1 import AppTest


class Hands:
    """Finds and changes what is on a page that is drawn without a browser."""

    def field(self, page: AppTest, label: str) -> Any:
        """The first field to fill in with a label."""
        kinds = ("text_input", "number_input", "selectbox", "date_input")
        return next(part for kind in kinds for part in page.get(kind) if part.label == label)

    def edit_grid(self, page: AppTest, place: str, rows: dict[int, dict[str, object]]) -> AppTest:
        """Type into the cells of a grid, as the browser hands it over."""
        number = page.session_state[f"generation {place}"]
        page.session_state[f"grid {place} {number}"] = {"edited_rows": rows, "added_rows": [], "deleted_rows": []}
        return page.run()

    def show_one_at_a_time(self, page: AppTest, place: str) -> AppTest:
        """Turn a table into the fields of one row."""
        return page.segmented_control(key=f"choose view {place}").set_value("One at a time").run()
