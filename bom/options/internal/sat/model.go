package sat

// Has says whether the kept model has l. After Assume it is a model of the
// assumptions, and stays one while they become fewer.
func (s *Solver) Has(l Lit) bool { return s.model[l] > 0 }

// Budget is what is left of the work that questions may take.
func (s *Solver) Budget() int64 { return s.budget }
