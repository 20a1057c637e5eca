"""The benchmark of the decoder compares like with like."""

import numpy as np

from tests.bench import decode


def test_the_three_ways_give_the_same_numbers(tmp_path):
    store = decode.Store(tmp_path, 1)
    decoded = decode.columns_of(store.decoded())
    loaded, read = store.loaded(), store.read()
    store.shelf.close()
    assert len(decoded["seq"]) == len(decode.density.noisy_day())
    for name, values in decoded.items():
        assert np.array_equal(values, loaded[name])
        assert np.array_equal(values, read[name].to_numpy())
