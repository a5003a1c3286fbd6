"""Sixteen numbers as one numba value, so that a kernel reads like arithmetic and runs on vectors.

Why it exists: numba's loop vectoriser gives up on short inner loops over arrays that might overlap. Spreading one
scatterer is a few hundred multiply-adds on rows of 16 floats, and what is seen of 16 scatterers is worked out
together; written with these lanes LLVM keeps them in registers. `benchmarks/engine.py` measures how much faster one
part of it is than the same written as plain loops.

What it is: three numba types whose machine forms are LLVM's vectors of 16: `singles` (float32), `doubles` (float64)
and `wholes` (int32), and operations on them: reading and writing memory, copies of one number, sums, differences,
products and quotients by the usual operators, choices, roots, and changes from one type to another. LLVM splits a
vector into whatever the machine has (one AVX-512, two AVX, four SSE or NEON registers). Memory is named by address and
index, not by array: an array passed to an inlined function adds a counted reference, and in an inner loop that costs
more than the arithmetic (41 ns for each scatterer instead of 17). The caller of a kernel must keep the arrays alive.
No bounds are checked: callers pad their tables to rows of 16.
"""

import operator

from llvmlite import ir
from numba.core import cgutils, types
from numba.extending import intrinsic, models, overload, register_model

WIDTH = 16

_NUMBERS = {"singles": ir.FloatType(), "doubles": ir.DoubleType(), "wholes": ir.IntType(32)}
_VECTORS = {kind: ir.VectorType(number, WIDTH) for kind, number in _NUMBERS.items()}
_BYTES = {"singles": 4, "doubles": 8, "wholes": 4}


class LanesType(types.Type):
    """Numba's name for 16 numbers of one kind."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        super().__init__(name=f"Lanes16{kind}")


singles, doubles, wholes = (LanesType(kind) for kind in _NUMBERS)
_SCALARS = {singles: types.float32, doubles: types.float64, wholes: types.int32}


@register_model(LanesType)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, dmm, fe_type):  # type: ignore[no-untyped-def]
        super().__init__(dmm, fe_type, _VECTORS[fe_type.kind])


def _pointer(builder, kind, address, index):  # type: ignore[no-untyped-def]
    """Return a pointer to number `index` of a kind after an address."""
    return builder.gep(builder.inttoptr(address, _NUMBERS[kind].as_pointer()), [index])


def _vector_pointer(builder, kind, address, index):  # type: ignore[no-untyped-def]
    """Return a pointer to the vector that begins at number `index` after an address."""
    return builder.bitcast(_pointer(builder, kind, address, index), _VECTORS[kind].as_pointer())


def _shuffled(builder, value, order):  # type: ignore[no-untyped-def]
    """Return a vector whose lanes are those of another, in an order."""
    mask = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), order)
    return builder.shuffle_vector(value, ir.Constant(value.type, ir.Undefined), mask)


def _copies(builder, kind, number):  # type: ignore[no-untyped-def]
    """Return a vector of one number in all lanes."""
    empty = ir.Constant(_VECTORS[kind], ir.Undefined)
    return _shuffled(builder, builder.insert_element(empty, number, ir.Constant(ir.IntType(32), 0)), [0] * WIDTH)


def _loader(lanes):  # type: ignore[no-untyped-def]
    @intrinsic
    def load(typingctx, address, index):  # type: ignore[no-untyped-def]
        """Return the 16 numbers from number `index` after the address."""

        def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
            value = builder.load(_vector_pointer(builder, lanes.kind, *args))
            value.align = _BYTES[lanes.kind]
            return value

        return lanes(types.intp, types.intp), codegen

    return load


load, load_doubles = _loader(singles), _loader(doubles)


@intrinsic
def store(typingctx, address, index, value):  # type: ignore[no-untyped-def]
    """Write 16 numbers to number `index` after the address, and what follows it."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        place = _vector_pointer(builder, value.kind, *args[:2])
        builder.store(args[2], place).align = _BYTES[value.kind]
        return context.get_dummy_value()

    return types.void(types.intp, types.intp, value), codegen


def _reader(lanes, returned):  # type: ignore[no-untyped-def]
    @intrinsic
    def number(typingctx, address, index):  # type: ignore[no-untyped-def]
        """Return number `index` after the address."""

        def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
            value = builder.load(_pointer(builder, lanes.kind, *args))
            return context.cast(builder, value, _SCALARS[lanes], returned)

        return returned(types.intp, types.intp), codegen

    return number


single, whole = _reader(singles, types.float32), _reader(wholes, types.intp)


def _copier(lanes):  # type: ignore[no-untyped-def]
    @intrinsic
    def splat(typingctx, value):  # type: ignore[no-untyped-def]
        """Return the same number in all lanes."""

        def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
            number = context.cast(builder, args[0], signature.args[0], _SCALARS[lanes])
            return _copies(builder, lanes.kind, number)

        return lanes(value), codegen

    return splat


splat, splat_doubles, splat_wholes = _copier(singles), _copier(doubles), _copier(wholes)


@intrinsic
def fill(typingctx, address, index):  # type: ignore[no-untyped-def]
    """Return float number `index` after the address, copied into all lanes."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        return _copies(builder, "singles", builder.load(_pointer(builder, "singles", *args)))

    return singles(types.intp, types.intp), codegen


@intrinsic
def gather(typingctx, address, index):  # type: ignore[no-untyped-def]
    """Return the 16 doubles whose numbers after the address stand in the lanes of `index`."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        value = ir.Constant(_VECTORS["doubles"], ir.Undefined)
        for lane in (ir.Constant(ir.IntType(32), n) for n in range(WIDTH)):
            place = builder.sext(builder.extract_element(args[1], lane), ir.IntType(64))
            number = builder.load(_pointer(builder, "doubles", args[0], place))
            value = builder.insert_element(value, number, lane)
        return value

    return doubles(types.intp, wholes), codegen


@intrinsic
def mirror(typingctx, value):  # type: ignore[no-untyped-def]
    """Swap lanes 0..7 with lanes 8..15: a value plus or minus its mirror image pairs mirrored nodes."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        half = WIDTH // 2
        return _shuffled(builder, args[0], [*range(half, WIDTH), *range(half)])

    return value(value), codegen


@intrinsic
def shifted(typingctx, value):  # type: ignore[no-untyped-def]
    """Move every lane to the one before it; the last becomes 0."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        mask = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), list(range(1, WIDTH + 1)))
        return builder.shuffle_vector(args[0], ir.Constant(_VECTORS[value.kind], None), mask)

    return value(value), codegen


@intrinsic
def first_of(typingctx, value):  # type: ignore[no-untyped-def]
    """Return the number in the first lane."""

    def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
        return builder.extract_element(args[0], ir.Constant(ir.IntType(32), 0))

    return _SCALARS[value](value), codegen


def _chooser(relation):  # type: ignore[no-untyped-def]
    @intrinsic
    def choose(typingctx, left, right, yes, no):  # type: ignore[no-untyped-def]
        """Return `yes` where left stands in a relation to right, else `no`; what is no number stands in none."""

        def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
            compare = builder.icmp_signed if left.kind == "wholes" else builder.fcmp_ordered
            return builder.select(compare(relation, args[0], args[1]), args[2], args[3])

        return yes(left, right, yes, no), codegen

    return choose


above, reaches = _chooser(">"), _chooser(">=")


def _function(name):  # type: ignore[no-untyped-def]
    @intrinsic
    def apply(typingctx, value):  # type: ignore[no-untyped-def]
        """Return a function of LLVM of each lane."""

        def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
            vector = _VECTORS[value.kind]
            full = f"llvm.{name}.v{WIDTH}f{8 * _BYTES[value.kind]}"
            known = cgutils.get_or_insert_function(builder.module, ir.FunctionType(vector, [vector]), full)
            return builder.call(known, args)

        return value(value), codegen

    return apply


root, size, rounded_down = _function("sqrt"), _function("fabs"), _function("floor")


def _changer(to):  # type: ignore[no-untyped-def]
    @intrinsic
    def change(typingctx, value):  # type: ignore[no-untyped-def]
        """Return the lanes as numbers of another kind; whole numbers are rounded towards zero."""

        def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
            if to == wholes:
                instruction = builder.fptosi
            elif value == wholes:
                instruction = builder.sitofp
            else:
                instruction = builder.fptrunc if to == singles else builder.fpext
            return instruction(args[0], _VECTORS[to.kind])

        return to(value), codegen

    return change


to_singles, to_doubles, to_wholes = _changer(singles), _changer(doubles), _changer(wholes)


def _binary(fractional, integer):  # type: ignore[no-untyped-def]
    @intrinsic
    def apply(typingctx, left, right):  # type: ignore[no-untyped-def]
        def codegen(context, builder, signature, args):  # type: ignore[no-untyped-def]
            if left == wholes:
                return getattr(builder, integer)(*args)
            # "contract" lets LLVM fuse a product and a sum where the machine can; nothing is reordered.
            return getattr(builder, fractional)(*args, flags=("contract",))

        return left(left, right), codegen

    def implementation(left, right):  # type: ignore[no-untyped-def]
        if isinstance(left, LanesType) and left == right:
            return lambda left, right: apply(left, right)  # noqa: PLW0108 - numba wants a function to type
        return None

    return implementation


overload(operator.add)(_binary("fadd", "add"))
overload(operator.sub)(_binary("fsub", "sub"))
overload(operator.mul)(_binary("fmul", "mul"))
overload(operator.truediv)(_binary("fdiv", "sdiv"))
