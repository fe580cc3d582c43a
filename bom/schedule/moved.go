package schedule

// Move is what changes when a slot is put in another's place.
type Move struct {
	// Days later that the van comes and leaves; below nothing for earlier.
	ComesLater  int `json:"comes_later_days"`
	LeavesLater int `json:"leaves_later_days"`
	// Stays that are no more, and those that are new.
	StaysGone []Stay `json:"stays_gone"`
	StaysNew  []Stay `json:"stays_new"`
	// Stages with other days than before; those only one of the slots has
	// have no days on the other side.
	Stages []StageMove `json:"stages"`
}

// StageMove is a stage on other days.
type StageMove struct {
	Stage string    `json:"stage"`
	Was   StageDays `json:"was"`
	Is    StageDays `json:"is"`
	// Later it begins, in days; 0 where one side has none.
	Later int `json:"later_days"`
}

// Moved says what moves from one slot to another.
func Moved(before, after Slot) Move {
	m := Move{StaysGone: without(before.Stays, after.Stays), StaysNew: without(after.Stays, before.Stays), Stages: []StageMove{}}
	if before.From() != "" && after.From() != "" {
		m.ComesLater = number(after.From()) - number(before.From())
		m.LeavesLater = number(after.Until()) - number(before.Until())
	}
	was := map[string]StageDays{}
	for _, s := range before.Stages {
		was[s.Stage] = s
	}
	for _, s := range after.Stages {
		w, had := was[s.Stage]
		delete(was, s.Stage)
		if w == s {
			continue
		}
		move := StageMove{Stage: s.Stage, Was: w, Is: s}
		if had {
			move.Later = number(s.From) - number(w.From)
		}
		m.Stages = append(m.Stages, move)
	}
	for _, s := range before.Stages {
		if _, gone := was[s.Stage]; gone {
			m.Stages = append(m.Stages, StageMove{Stage: s.Stage, Was: s})
		}
	}
	return m
}

// without are the stays of one list that the other has not.
func without(list, other []Stay) []Stay {
	out := []Stay{}
	for _, s := range list {
		found := false
		for _, o := range other {
			found = found || o == s
		}
		if !found {
			out = append(out, s)
		}
	}
	return out
}
