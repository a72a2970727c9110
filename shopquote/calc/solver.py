"""The solver of linear and mixed-integer programs (HiGHS), set to print nothing and to repeat its answers."""

from typing import Any


def quiet_solver() -> Any:
    """A new HiGHS solver that prints nothing, uses one thread and a fixed seed.

    Output is switched off before the solver's own set-up ends, because some versions print a greeting there,
    which would spoil output meant for programs.
    """
    import highspy

    class _Quiet(highspy.Highs):
        def enableCallbacks(self) -> None:
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    solver = _Quiet()  # type: ignore[no-untyped-call]
    solver.setOptionValue("output_flag", False)
    # Several threads finish in an order of chance: the same program could give another optimal plan.
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("random_seed", 1)
    return solver
