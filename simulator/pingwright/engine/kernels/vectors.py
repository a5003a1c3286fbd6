"""Sixteen single-precision lanes as one numba value, so that a kernel reads like arithmetic and runs on vectors.

Why it exists: numba's loop vectoriser gives up on short inner loops over arrays that might overlap. Spreading one
scatterer is a few hundred multiply-adds on rows of 16 floats; written with these lanes LLVM keeps them in registers.
`benchmarks/` measures how much faster this is than the same kernel written as plain loops.

What it is: a numba type `lanes` whose machine form is LLVM's <16 x float>, and seven operations on it: `load`, `store`,
`splat`, `fill`, `mirror` and, by the usual operators, sum, difference, product. LLVM splits the vector into whatever
the machine has (one AVX-512, two AVX, four SSE or NEON registers). Memory is named by address and index, not by array:
an array passed to an inlined function adds a counted reference, and in an inner loop that costs more than the
arithmetic (41 ns for each scatterer instead of 17). The caller of a kernel must keep the arrays alive. Rows are
C-contiguous float32; no bounds are checked: callers pad their tables to rows of 16.
"""

import operator

from llvmlite import ir
from numba.core import types
from numba.extending import intrinsic, models, overload, register_model

WIDTH = 16

_VECTOR = ir.VectorType(ir.FloatType(), WIDTH)


class LanesType(types.Type):
    """Numba's name for <16 x float>."""

    def __init__(self) -> None:
        super().__init__(name="Lanes16")


lanes = LanesType()


@register_model(LanesType)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, dmm, fe_type):  # type: ignore[no-untyped-def]
        super().__init__(dmm, fe_type, _VECTOR)


def _pointer(builder, address, index):  # type: ignore[no-untyped-def]
    """Return a vector pointer to float number `index` after an address."""
    floats = builder.inttoptr(address, ir.FloatType().as_pointer())
    return builder.bitcast(builder.gep(floats, [index]), _VECTOR.as_pointer())


def _copies(builder, number):  # type: ignore[no-untyped-def]
    """Return a vector of one number in all lanes."""
    single = builder.insert_element(ir.Constant(_VECTOR, ir.Undefined), number, ir.Constant(ir.IntType(32), 0))
    mask = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), [0] * WIDTH)
    return builder.shuffle_vector(single, ir.Constant(_VECTOR, ir.Undefined), mask)


@intrinsic
def load(typingctx, address, index):  # type: ignore[no-untyped-def]
    """Return the 16 floats from number `index` after the address."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        value = builder.load(_pointer(builder, *args))
        value.align = 4
        return value

    return lanes(types.intp, types.intp), codegen


@intrinsic
def store(typingctx, address, index, value):  # type: ignore[no-untyped-def]
    """Write the 16 floats from number `index` after the address."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        builder.store(args[2], _pointer(builder, *args[:2])).align = 4
        return context.get_dummy_value()

    return types.void(types.intp, types.intp, lanes), codegen


@intrinsic
def splat(typingctx, value):  # type: ignore[no-untyped-def]
    """Return the same float in all lanes."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        return _copies(builder, context.cast(builder, args[0], signature.args[0], types.float32))

    return lanes(value), codegen


@intrinsic
def fill(typingctx, address, index):  # type: ignore[no-untyped-def]
    """Return float number `index` after the address, copied into all lanes."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        floats = builder.inttoptr(args[0], ir.FloatType().as_pointer())
        return _copies(builder, builder.load(builder.gep(floats, [args[1]])))

    return lanes(types.intp, types.intp), codegen


@intrinsic
def mirror(typingctx, value):  # type: ignore[no-untyped-def]
    """Swap lanes 0..7 with lanes 8..15: a value plus or minus its mirror image pairs mirrored nodes."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        half = WIDTH // 2
        mask = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), [*range(half, WIDTH), *range(half)])
        return builder.shuffle_vector(args[0], ir.Constant(_VECTOR, ir.Undefined), mask)

    return lanes(lanes), codegen


def _binary(instruction):  # type: ignore[no-untyped-def]
    @intrinsic
    def apply(typingctx, left, right):  # type: ignore[no-untyped-def]
        def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
            # "contract" lets LLVM fuse a product and a sum where the machine can; nothing is reordered.
            return getattr(builder, instruction)(*args, flags=("contract",))

        return lanes(lanes, lanes), codegen

    def implementation(left, right):  # type: ignore[no-untyped-def]
        if left == lanes and right == lanes:
            return lambda left, right: apply(left, right)  # noqa: PLW0108 - numba wants a function to type
        return None

    return implementation


overload(operator.add)(_binary("fadd"))
overload(operator.sub)(_binary("fsub"))
overload(operator.mul)(_binary("fmul"))
