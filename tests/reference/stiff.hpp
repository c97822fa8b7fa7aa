// SUNDIALS CVODE (backward differentiation, dense Jacobian) behind one function: the independent
// integrator of the reference tests.
#pragma once

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <functional>
#include <vector>

namespace hotband::test {

using State = std::vector<double>;
/// dy/dt of y.
using Slope = std::function<State(const State& y)>;
/// The integration ends where this crosses zero.
using Stop = std::function<double(const State& y)>;

/// Where an integration ended.
struct Integrated {
    double t = 0;
    State y;
    bool ok = false;
    bool stopped = false;  // by the stop function, not by its time
};

namespace detail {

struct Problem {
    const Slope* slope;
    const Stop* stop;
};

inline State state_of(N_Vector v) {
    const double* data = N_VGetArrayPointer(v);
    return State(data, data + N_VGetLength(v));
}

inline int slope_of(double /*t*/, N_Vector y, N_Vector ydot, void* problem) {
    const State rate = (*static_cast<Problem*>(problem)->slope)(state_of(y));
    for (size_t i = 0; i < rate.size(); ++i) {
        NV_Ith_S(ydot, static_cast<sunindextype>(i)) = rate[i];
    }
    return 0;
}

inline int stop_of(double /*t*/, N_Vector y, double* out, void* problem) {
    out[0] = (*static_cast<Problem*>(problem)->stop)(state_of(y));
    return 0;
}

}  // namespace detail

/// From y over `seconds`, or until `stop` crosses zero.
inline Integrated integrate(const Slope& slope, State y, double seconds, const Stop& stop = {},
                            double relative = 1e-9, double absolute = 1e-9) {
    detail::Problem problem{&slope, &stop};
    SUNContext context = nullptr;
    SUNContext_Create(nullptr, &context);
    const auto n = static_cast<sunindextype>(y.size());
    N_Vector v = N_VMake_Serial(n, y.data(), context);
    SUNMatrix matrix = SUNDenseMatrix(n, n, context);
    SUNLinearSolver solver = SUNLinSol_Dense(v, matrix, context);
    void* cvode = CVodeCreate(CV_BDF, context);
    Integrated out;
    bool ok = CVodeInit(cvode, detail::slope_of, 0, v) == CV_SUCCESS;
    ok = ok && CVodeSStolerances(cvode, relative, absolute) == CV_SUCCESS;
    ok = ok && CVodeSetUserData(cvode, &problem) == CV_SUCCESS;
    ok = ok && CVodeSetLinearSolver(cvode, solver, matrix) == CV_SUCCESS;
    ok = ok && CVodeSetMaxNumSteps(cvode, 200000) == CV_SUCCESS;
    ok = ok && CVodeSetStopTime(cvode, seconds) == CV_SUCCESS;
    if (stop) {
        ok = ok && CVodeRootInit(cvode, 1, detail::stop_of) == CV_SUCCESS;
    }
    if (ok) {
        const int flag = CVode(cvode, seconds, v, &out.t, CV_NORMAL);
        out.ok = flag >= 0;
        out.stopped = flag == CV_ROOT_RETURN;
        out.y = detail::state_of(v);
    }
    CVodeFree(&cvode);
    SUNLinSolFree(solver);
    SUNMatDestroy(matrix);
    N_VDestroy(v);
    SUNContext_Free(&context);
    return out;
}

}  // namespace hotband::test
