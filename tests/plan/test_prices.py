"""Price lists: what is wrong is told with its line."""

from __future__ import annotations

import pytest

from bondwright.plan.cost import PriceError, read_prices


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "line 1: the first line must be item,unit,price"),
        ("# ours\nitem,price\n", "line 2: the first line must be item,unit,price"),
        ("item,unit,price\na,each,\n", "line 2: '' is no price"),
        ("# ours\nitem,unit,price\na,each,1\n# more\nb,each,x\n", "line 5: 'x' is no price"),
        ("item,unit,price\na,each,1\na,each,2\n", "line 3: 'a' has a price already"),
        ("item,unit,price\na,furlongs,1\n", "line 2: 'furlongs' is no unit"),
        ("item,unit,price\na,each,-1\n", "line 2: a price is zero or more"),
        ("item,unit,price\n,each,1\n", "line 2: needs an item"),
        ('item,unit,price\na,each,"1\n', "line 2: unexpected end of data"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(text: str, told: str) -> None:
    with pytest.raises(PriceError) as error:
        read_prices(text, "prices.csv")
    assert str(error.value).startswith(f"prices.csv, {told}")


def test_comments_and_a_mark_at_the_start_are_no_trouble() -> None:
    found = read_prices("\ufeff# ours\nitem,unit,price\nground rod,each,19\n")
    assert [str(one.price) for one in found.values()] == ["19"]
