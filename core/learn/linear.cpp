// Small dense linear algebra; see linear.hpp.
#include "learn/linear.hpp"

#include <cmath>

namespace hotband {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

MatrixXd product(const MatrixXd& A, const MatrixXd& B) {
    MatrixXd out = MatrixXd::Zero(A.rows(), B.cols());
    for (Index j = 0; j < B.cols(); ++j) {
        for (Index k = 0; k < A.cols(); ++k) {
            out.col(j) += A.col(k) * B(k, j);
        }
    }
    return out;
}

VectorXd applied(const MatrixXd& A, const VectorXd& x) {
    VectorXd out = VectorXd::Zero(A.rows());
    for (Index k = 0; k < A.cols(); ++k) {
        out += A.col(k) * x(k);
    }
    return out;
}

MatrixXd weighed_transpose(const MatrixXd& J, const VectorXd& w) {
    MatrixXd out(J.cols(), J.rows());
    for (Index i = 0; i < J.rows(); ++i) {
        out.col(i) = J.row(i).transpose() * w(i);
    }
    return out;
}

MatrixXd cholesky(const MatrixXd& A) {
    MatrixXd L = MatrixXd::Zero(A.rows(), A.cols());
    for (Index j = 0; j < A.cols(); ++j) {
        VectorXd rest = A.col(j);
        for (Index k = 0; k < j; ++k) {
            rest -= L.col(k) * L(j, k);
        }
        const double root = std::sqrt(rest(j));
        for (Index i = j; i < A.rows(); ++i) {
            L(i, j) = i == j ? root : rest(i) / root;
        }
    }
    return L;
}

VectorXd solve_lower(const MatrixXd& L, VectorXd b) {
    for (Index j = 0; j < b.size(); ++j) {
        b(j) /= L(j, j);
        for (Index i = j + 1; i < b.size(); ++i) {
            b(i) -= L(i, j) * b(j);
        }
    }
    return b;
}

VectorXd solve_lower_transposed(const MatrixXd& L, VectorXd b) {
    for (Index j = b.size(); j-- > 0;) {
        for (Index i = j + 1; i < b.size(); ++i) {
            b(j) -= L(i, j) * b(i);
        }
        b(j) /= L(j, j);
    }
    return b;
}

VectorXd Positive::solve(const VectorXd& b) const {
    return solve_lower_transposed(L_, solve_lower(L_, b));
}

MatrixXd Positive::solve_all(const MatrixXd& B) const {
    MatrixXd out(B.rows(), B.cols());
    for (Index j = 0; j < B.cols(); ++j) {
        out.col(j) = solve(B.col(j));
    }
    return out;
}

}  // namespace hotband
