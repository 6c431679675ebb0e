"""`detector`: the S-curve of an FM detector."""

from typing import Literal, get_args

from aligner.procedure.form import Table
from aligner.procedure.model import Circuit, DetectorStep
from aligner.procedure.places import WholeSet
from aligner.procedure.set_form import read_generator
from aligner.procedure.step_head import StepHead
from aligner.procedure.strip_form import check_width, read_circuit, read_count, read_rest, read_span

Form = Literal["discriminator", "ratio", "quadrature"]
FORMS: tuple[Form, ...] = get_args(Form)
USUAL_SPAN = 0.05
USUAL_ASYMMETRY = 0.15


def read_detector(table: Table, head: StepHead, whole: WholeSet) -> DetectorStep | None:
    """The circuit, its kind of detector, which adjuster sets zero and which symmetry, and what is allowed."""
    circuit = read_circuit(table, whole, "detector")
    form = table.need("form", f"write one of {', '.join(FORMS)}").choice(FORMS)
    zero, symmetry = _adjusters(table, circuit, form)
    span = read_span(table, whole, USUAL_SPAN)
    tolerance_cell = table.need("tolerance", 'write how near the zero shall come to the IF, such as "10 kHz"')
    tolerance_hz = tolerance_cell.quantity("Hz")
    check_width(tolerance_cell, tolerance_hz, span)
    asymmetry_cell = table.may("asymmetry")
    asymmetry = asymmetry_cell.number() or USUAL_ASYMMETRY
    if asymmetry >= 1.0:
        asymmetry_cell.fault("write a share below 1, such as 0.15: the difference of both peaks over their mean")
    linear_cell = table.may("linear")
    linear_hz = linear_cell.quantity("Hz")
    if linear_hz and linear_hz >= span[1] - span[0]:
        linear_cell.fault("write less than the span that is swept")
    count, place = read_count(table), read_rest(table, whole)
    generator = read_generator(table.may("generator").table())
    if circuit is None or form is None or tolerance_hz is None or not zero:
        return None
    return DetectorStep(
        head.id,
        circuit.id,
        form,
        zero,
        symmetry,
        span,
        tolerance_hz,
        count,
        asymmetry,
        linear_hz,
        place,
        title=head.title,
        generator=generator,
    )


def _adjusters(table: Table, circuit: Circuit | None, form: Form | None) -> tuple[str, str]:
    """Zero is the last adjuster's (the secondary), symmetry the first one's (the primary), unless they are named."""
    zero_cell, symmetry_cell = table.may("zero"), table.may("symmetry")
    known = list(circuit.adjusters) if circuit else []
    zero = zero_cell.reference(known, "adjuster of this circuit") if circuit else None
    symmetry = symmetry_cell.reference(known, "adjuster of this circuit") if circuit else None
    if form == "quadrature" and symmetry_cell.given:
        symmetry_cell.fault("leave it out: a quadrature detector has one coil, which sets the zero")
    if zero and zero == symmetry:
        symmetry_cell.fault("name another adjuster: this one sets the zero")
    if not known:
        return "", ""
    zero = zero or known[-1]
    others = [name for name in known if name != zero]
    usual = others[0] if others and form != "quadrature" else ""
    return zero, symmetry or usual
