// Dense linear algebra of the fits: some dozens of rows, a few calls each, so that every operation
// is compiled once, here, and not anew for each expression that it stands in.
#pragma once

#include <Eigen/Core>

namespace hotband {

/// A B.
Eigen::MatrixXd product(const Eigen::MatrixXd& A, const Eigen::MatrixXd& B);

/// A x.
Eigen::VectorXd applied(const Eigen::MatrixXd& A, const Eigen::VectorXd& x);

/// J'W with the weights W = diag(w).
Eigen::MatrixXd weighed_transpose(const Eigen::MatrixXd& J, const Eigen::VectorXd& w);

/// Lower triangular L with L L' = A, for A symmetric and positive definite; for any other it holds
/// what is not a number. Cholesky's method, column by column (textbook).
Eigen::MatrixXd cholesky(const Eigen::MatrixXd& A);

/// x of L x = b, and of L'x = b, L lower triangular.
Eigen::VectorXd solve_lower(const Eigen::MatrixXd& L, Eigen::VectorXd b);
Eigen::VectorXd solve_lower_transposed(const Eigen::MatrixXd& L, Eigen::VectorXd b);

/// A symmetric and positive definite matrix, factored once for many right-hand sides.
class Positive {
 public:
    Positive() = default;
    explicit Positive(const Eigen::MatrixXd& A) : L_(cholesky(A)) {}

    /// x of A x = b, and X of A X = B.
    Eigen::VectorXd solve(const Eigen::VectorXd& b) const;
    Eigen::MatrixXd solve_all(const Eigen::MatrixXd& B) const;

 private:
    Eigen::MatrixXd L_;
};

}  // namespace hotband
