// The fits' linear algebra against Eigen's own decompositions and products.
#include "learn/linear.hpp"

#include <Eigen/Dense>
#include <cmath>

#include "near.hpp"
#include "random.hpp"

using namespace hotband;
using namespace hotband::test;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

MatrixXd any_matrix(Random& random, Index rows, Index columns) {
    MatrixXd A(rows, columns);
    for (Index j = 0; j < columns; ++j) {
        for (Index i = 0; i < rows; ++i) {
            A(i, j) = random.uniform(-2, 2);
        }
    }
    return A;
}

constexpr double rounding = 1e-11;  // of numbers about one, some dozens of them added

bool same(const MatrixXd& a, const MatrixXd& b) {
    return a.rows() == b.rows() && a.cols() == b.cols() &&
           (a - b).norm() <= rounding * (1 + b.norm());
}

}  // namespace

TEST_CASE("linear: products are Eigen's") {
    Random random(11);
    for (const Index rows : {1, 2, 5, 40}) {
        for (const Index columns : {1, 3, 37}) {
            const MatrixXd A = any_matrix(random, rows, columns);
            const MatrixXd B = any_matrix(random, columns, 4);
            const VectorXd x = any_matrix(random, columns, 1);
            const VectorXd w = any_matrix(random, rows, 1);
            CHECK(same(product(A, B), A * B));
            CHECK(same(applied(A, x), A * x));
            CHECK(same(weighed_transpose(A, w), A.transpose() * w.asDiagonal()));
        }
    }
}

TEST_CASE("linear: the factor is Eigen's, and what is solved with it solves the equations") {
    Random random(12);
    for (const Index n : {1, 2, 3, 8, 40}) {
        const MatrixXd root = any_matrix(random, n, n);
        const MatrixXd A = root * root.transpose() + MatrixXd::Identity(n, n);
        const VectorXd b = any_matrix(random, n, 1);
        const MatrixXd B = any_matrix(random, n, 3);
        const MatrixXd L = cholesky(A);
        CHECK(same(L, A.llt().matrixL()));
        CHECK(same(solve_lower(L, b), L.triangularView<Eigen::Lower>().solve(b)));
        CHECK(same(solve_lower_transposed(L, b),
                   L.transpose().triangularView<Eigen::Upper>().solve(b)));
        CHECK(same(Positive(A).solve(b), A.ldlt().solve(b)));
        CHECK(same(Positive(A).solve_all(B), A.ldlt().solve(B)));
    }
}

TEST_CASE("linear: a matrix that is not positive gives no number, not a wrong one") {
    MatrixXd A(2, 2);
    A << 1, 2, 2, 1;
    CHECK_FALSE(Positive(A).solve(VectorXd::Ones(2)).allFinite());
    A << 1, 1, 1, 1;  // singular
    CHECK_FALSE(Positive(A).solve(VectorXd::Unit(2, 0)).allFinite());
}
