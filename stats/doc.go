// Package stats holds the statistics of the lab's discrimination tests: how
// probable a count of correct answers is when everybody guesses, how many
// correct answers show a difference, what a panel of a given size can see,
// and how large the difference is, with its interval.
//
// # Model
//
// The answers are taken as independent and equally likely to be correct, so
// the number correct X follows Bin(n, pc). Replicates by few assessors may vary
// more between assessors than that (overdispersion): [FitBetaBinomial] is for
// them, [DecideReplicatedSimilarity] for their similarity and [SignByMajority]
// for directional answers; [Perceivers] gives the power of people with several
// sets each.
//
//   - n is the number of evaluations counted, x the number correct.
//   - chance (p0) is the probability of a correct answer without perception:
//     1/3 in the triangle, 3-AFC and tetrad tests, 1/2 in the duo-trio test
//     and the paired comparison.
//   - pc is the probability of a correct answer, pd the proportion of
//     discriminators, pc = chance + pd (1 - chance).
//   - d′ is the size of the difference in units of perceptual noise. It can be
//     compared across methods; pd cannot.
//
// The difference test is exact and one-sided, P(X ≥ x), except where a name or a
// [Sided] says otherwise. Similarity ([MaxCorrect], and [SimilarBothWays] where
// either product may have more) is a question of its own, and [Sequential]
// tests stop early at stated looks. A count that misses [MinCorrect] does not
// show that the products are alike.
//
// # Judges
//
// What single judges can perceive is read from one model of a panel's tests:
// [FitPanel] gives every test a size ([Difficulty], with a share of tests in which
// there is nothing to find) and every judge an ability, a factor on that size, both
// shrunken by what all tests say (empirical Bayes). The size that a judge's answers
// are held against leaves that judge out. [FlagJudges] compares each with a typical
// panellist by exact tails, adjusted by [Holm], and calls nobody weak on one test.
// [FollowRecord] draws a series between Wald's lines, [FollowDrift] a cumulative sum
// whose false signals are computed exactly, for sizes that are known; [SimulatePanel]
// counts how far all this holds where sizes are fitted. [PoolDPrime], [HabitOfTwo],
// [HabitOfThree], [GuessesAgainstLuck] and [AgreementGivenDifficulty] are for one d′
// over methods, habits of place, declared guesses and pairs who agree.
//
// # Arguments
//
// Counts and probabilities come from a checked plan and closed trays. An
// impossible one (n < 1, x < 0, x > n, a probability outside its range, NaN)
// is a bug of the caller, and the functions panic. Whatever a person typed
// must be checked before it comes here.
//
// # Accuracy
//
// No small tail is ever computed as one minus a large one. Each function
// states its error; the tests hold it against exact integers and against
// values printed to 17 digits.
package stats
