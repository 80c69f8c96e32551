package sequential

// AtLeast is how likely at least k of independent events happen, the i-th with
// chance p[i]: the upper tail of the Poisson-binomial distribution, exactly, by
// the recurrence over events (R. E. Barlow and K. D. Heidtmann, "Computing
// k-out-of-n system reliability", IEEE Trans. Reliability 33, 1984; memory).
func AtLeast(k int, p []float64) float64 {
	if k <= 0 {
		return 1
	}
	if k > len(p) {
		return 0
	}
	exactly := make([]float64, k+1) // so many so far; the last one: that many or more
	exactly[0] = 1
	for _, chance := range p {
		exactly[k] += exactly[k-1] * chance
		for n := k - 1; n > 0; n-- {
			exactly[n] = exactly[n]*(1-chance) + exactly[n-1]*chance
		}
		exactly[0] *= 1 - chance
	}
	return exactly[k]
}
