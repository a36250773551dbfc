package partial

// sums holds the geometric sums S_r = Σ_{n<N} n^r·q^n for r = 0, 1, 2. Every
// inner product of two damped sinusoids and of their derivatives is made of
// them: with columns Re(u·n^p·z_i^n) and Re(v·n^q·z_j^n),
//
//	Σ = ½·Re{ u·v*·S_{p+q}(z_i·z_j*) + u·v·S_{p+q}(z_i·z_j) }.
type sums struct{ s0, s1, s2 complex128 }

// doubling returns the sums over n terms by going through the bits of n:
// from M to 2M terms with Σ_{M≤m<2M} = q^M·(...), from M to M+1 by one more
// term. It has no cancellation anywhere, q = 1 included.
func doubling(q complex128, n int) sums {
	var s sums
	qm := complex128(1)
	m := 0
	top := 0
	for n>>top > 1 {
		top++
	}
	for b := top; b >= 0; b-- {
		if m > 0 {
			f := complex(float64(m), 0)
			s.s2 += qm * (s.s2 + 2*f*s.s1 + f*f*s.s0)
			s.s1 += qm * (s.s1 + f*s.s0)
			s.s0 += qm * s.s0
			qm *= qm
			m *= 2
		}
		if n>>b&1 == 1 {
			f := complex(float64(m), 0)
			s.s0 += qm
			s.s1 += f * qm
			s.s2 += f * f * qm
			qm *= q
			m++
		}
	}
	return s
}

// closedFrom is how many times the window 1/|1-q| must fit into it before the
// textbook form is used: from Σ(n+1)^r·q^(n+1) follow S0 = (1-q^N)/(1-q),
// S1 = (q·S0 - N·q^N)/(1-q), S2 = (q·(2·S1+S0) - N²·q^N)/(1-q). With 8 widths
// its differences lose one digit or two of sixteen; near q = 1 all are lost.
const closedFrom = 8

// geometric returns the sums over n terms; qn must be q^n.
func geometric(q, qn complex128, n int) sums {
	dr, di := 1-real(q), -imag(q)
	m := dr*dr + di*di
	fn := float64(n)
	if m*fn*fn < closedFrom*closedFrom {
		return doubling(q, n)
	}
	inv := complex(dr/m, -di/m)
	nq := complex(fn*real(qn), fn*imag(qn))
	nnq := complex(fn*real(nq), fn*imag(nq))
	var s sums
	s.s0 = (1 - qn) * inv
	s.s1 = (q*s.s0 - nq) * inv
	s.s2 = (q*(s.s1+s.s1+s.s0) - nnq) * inv
	return s
}
