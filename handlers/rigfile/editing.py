"""Writing a value into a rig file's text and leaving everything else, comments too, as it stands."""

import re


def with_coefficient(text: str, hose: str, coefficient: float, source: str) -> str:
    """The rig file's text with a hose's coefficient from the department's own flow test."""
    values = {
        "coefficient": f"{coefficient:.4g}",
        "flow_tested": "true",
        "source": '"' + source.replace("\\", "").replace('"', "'") + '"',
    }
    header = f"[hose.{hose}]"
    lines = text.splitlines()
    start = next((n for n, line in enumerate(lines) if line.split("#")[0].strip() == header), None)
    if start is None:
        added = [header, *(f"{key} = {value}" for key, value in values.items())]
        return "\n".join([*lines, "", *added]).lstrip("\n") + "\n"
    end = next((n for n in range(start + 1, len(lines)) if lines[n].lstrip().startswith("[")), len(lines))
    kept = [
        line for line in lines[start + 1 : end] if not re.match(rf"\s*({'|'.join(values)}|coefficient_si)\s*=", line)
    ]
    return (
        "\n".join([*lines[: start + 1], *(f"{key} = {value}" for key, value in values.items()), *kept, *lines[end:]])
        + "\n"
    )
