"""Block kernels and Krylov helpers against scipy and numpy."""

import numpy as np
import pytest
from scipy.sparse import bsr_matrix, random_array

from platestack.fea.numerics.blocks import Blocks, smooth
from platestack.fea.numerics.krylov import conjugate_gradients, largest_eigenvalue
from platestack.fea.support import parallel


def scattered(rows: int, columns: int, seed: int) -> bsr_matrix:
    """A random matrix in 3x3 blocks."""
    rng = np.random.default_rng(seed)
    pattern = random_array((rows, columns), density=0.1, rng=rng).tocsr()
    data = rng.standard_normal((pattern.nnz, 3, 3))
    return bsr_matrix((data, pattern.indices, pattern.indptr), shape=(3 * rows, 3 * columns))


@pytest.fixture(params=[0, 10**9], ids=["threads", "one thread"])
def _short(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parallel, "SHORT", request.param)


@pytest.mark.usefixtures("_short")
@pytest.mark.parametrize(("dtype", "tol"), [(np.float64, 1e-13), (np.float32, 1e-5)])
def test_product(dtype: type, tol: float) -> None:
    matrix = scattered(200, 150, 1)
    x = np.random.default_rng(2).standard_normal(450)
    found = Blocks.of(matrix, dtype).apply(x.astype(dtype))
    assert found.dtype == dtype
    np.testing.assert_allclose(found, matrix @ x, atol=tol * np.abs(matrix @ x).max())


@pytest.mark.usefixtures("_short")
def test_galerkin_product() -> None:
    fine, up = scattered(120, 120, 3), scattered(120, 40, 4)
    blocks = Blocks.of(up)
    found = Blocks.of(fine).galerkin(blocks, blocks.transposed())
    expected = (up.T @ fine @ up).toarray()
    np.testing.assert_allclose(
        found.scipy().toarray(), expected, atol=1e-12 * np.abs(expected).max()
    )


def test_restriction_to_free_components() -> None:
    matrix = scattered(50, 50, 5)
    free = np.random.default_rng(6).random(150) < 0.6
    expected = np.where(free[:, None] & free, matrix.toarray(), 0.0)
    found = Blocks.of(matrix).restricted(free, np.float64).scipy().toarray()
    np.testing.assert_array_equal(found, expected)


def test_smoothing_is_its_formula() -> None:
    """R -= A z; new = keep z + step D⁻¹ r; x += new, on dense matrices."""
    matrix, rng = scattered(40, 40, 8), np.random.default_rng(9)
    inverse = rng.standard_normal((40, 3, 3))
    z, r, x = rng.standard_normal((3, 120))
    left = r - matrix @ z
    step = 0.3 * z + 0.7 * np.einsum("bij,bj->bi", inverse, left.reshape(-1, 3)).ravel()
    found, moved, new = r.copy(), x.copy(), np.empty(120)
    blocks = Blocks.of(matrix)
    smooth(0, 40, blocks.indptr, blocks.indices, blocks.data, inverse.ravel(), 0.3, 0.7,
           z, found, moved, new)  # fmt: skip
    for one, other in ((found, left), (new, step), (moved, x + step)):
        np.testing.assert_allclose(one, other, rtol=1e-12, atol=1e-12)


def test_diagonal_blocks() -> None:
    matrix = bsr_matrix(scattered(50, 50, 7) + bsr_matrix(np.eye(150), blocksize=(3, 3)))
    dense = matrix.toarray()
    expected = [dense[i : i + 3, i : i + 3] for i in range(0, 150, 3)]
    np.testing.assert_array_equal(Blocks.of(matrix).diagonal(), expected)


def test_largest_eigenvalue_and_gradients() -> None:
    rng = np.random.default_rng(8)
    basis, _ = np.linalg.qr(rng.standard_normal((80, 80)))
    matrix = basis * np.linspace(1, 50, 80) @ basis.T
    diagonal = 1 / np.diag(matrix)
    exact = np.linalg.eigvals(diagonal[:, None] * matrix).real.max()
    found = largest_eigenvalue(lambda x: matrix @ x, lambda r: diagonal * r, 80, steps=25)
    assert 0.97 * exact < found < 1.000001 * exact
    load = rng.standard_normal(80)
    outcome = conjugate_gradients(
        lambda x: matrix @ x, load, lambda r: diagonal * r, tol=1e-10, max_iterations=100
    )
    np.testing.assert_allclose(outcome.solution, np.linalg.solve(matrix, load), atol=1e-8)
    assert outcome.residual <= 1e-10
