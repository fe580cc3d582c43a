package schedule

import (
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
)

// Network is the work of one van as stages that wait for each other: when each
// could begin and must, and which leave no room (the critical path method,
// J. E. Kelley and M. R. Walker 1959). It reckons with the people a stage may
// have and those there are for each trade, but with nothing else that is
// booked: it says what the work takes by itself.
//
// All is in hours of work from the van's first hour on. Standing time goes by
// the clock, a day and a night of it to one day of work; weekends are not
// reckoned with, in which it may come cheaper.
type Network struct {
	Stages []NetworkStage `json:"stages"`
	// Hours from the first to the last.
	Hours decimal.Decimal `json:"hours"`
	// Critical are the stages of one longest chain, in its order.
	Critical []string `json:"critical"`
}

// NetworkStage is one stage of it.
type NetworkStage struct {
	Stage string   `json:"stage"`
	Name  string   `json:"name"`
	After []string `json:"after,omitempty"`
	// Hours of work by the clock with the people there are, and Standing after
	// it, in hours of work.
	Hours          decimal.Decimal `json:"hours"`
	Standing       decimal.Decimal `json:"standing,omitzero"`
	EarliestStart  decimal.Decimal `json:"earliest_start"`
	EarliestFinish decimal.Decimal `json:"earliest_finish"` // standing included
	LatestStart    decimal.Decimal `json:"latest_start"`
	LatestFinish   decimal.Decimal `json:"latest_finish"`
	// Float is how much later it may begin without making the whole later.
	Float decimal.Decimal `json:"float"`
}

// Network works out the network of work on the floor, on a day of the week as
// it is without leave. Of a trade that nobody has there is taken to be one.
func (f Floor) Network(w Work) (Network, document.Faults) {
	if faults := w.Check(); faults != nil {
		return Network{}, faults
	}
	length, pace := f.usual()
	order, _ := w.order()
	n := len(order)
	start, finish, took, standing := make([]int, n), make([]int, n), make([]int, n), make([]int, n)
	place := make(map[string]int, n)
	for i, of := range order {
		place[w.Stages[of].Code] = i
	}
	end := 0
	for i, of := range order {
		s := &w.Stages[of]
		took[i] = s.elapsed(pace)
		standing[i] = ceil(hundredths(s.StandingHours)*length, aDay)
		for _, code := range s.After {
			start[i] = max(start[i], finish[place[code]])
		}
		finish[i] = start[i] + took[i] + standing[i]
		end = max(end, finish[i])
	}
	late := make([]int, n) // latest finish
	for i := range late {
		late[i] = end
	}
	for i := n - 1; i >= 0; i-- {
		for _, code := range w.Stages[order[i]].After {
			j := place[code]
			late[j] = min(late[j], late[i]-took[i]-standing[i])
		}
	}
	out := Network{Hours: hours(end), Stages: make([]NetworkStage, n), Critical: []string{}}
	for i, of := range order {
		s := &w.Stages[of]
		out.Stages[i] = NetworkStage{Stage: s.Code, Name: s.Name, After: s.After,
			Hours: hours(took[i]), Standing: hours(standing[i]),
			EarliestStart: hours(start[i]), EarliestFinish: hours(finish[i]),
			LatestStart: hours(late[i] - took[i] - standing[i]), LatestFinish: hours(late[i]),
			Float: hours(late[i] - finish[i])}
	}
	at := 0
	for i, of := range order { // one chain: from each, the first that begins where it ends and has no room
		if late[i] == finish[i] && start[i] == at && follows(w.Stages[of].After, out.Critical) {
			out.Critical = append(out.Critical, w.Stages[of].Code)
			at = finish[i]
		}
	}
	return out, nil
}

// follows says whether a stage may come next in a chain.
func follows(after, chain []string) bool {
	if len(chain) == 0 {
		return len(after) == 0
	}
	return slices.Contains(after, chain[len(chain)-1])
}

// elapsed is how long a stage takes with the most people it may have and, of
// each trade, those there are: the longer of all its hours shared out and each
// trade's hours among its own (R. McNaughton 1959 shows that no more is
// needed where work can be handed over).
func (s *Stage) elapsed(pace map[string]int) int {
	people := s.MostPeople
	if people == 0 {
		people = DefaultMostPeople
	}
	sum, most := 0, 0
	for _, h := range s.Hours {
		n := hundredths(h.Hours)
		sum += n
		rate := pace[h.Trade]
		if rate == 0 {
			rate = wholePace
		}
		most = max(most, ceil(n*wholePace, rate))
	}
	return max(most, ceil(sum, people))
}

// usual is the longest day of anybody in a week, and the pace of all who may
// work at each trade, in percent.
func (f Floor) usual() (length int, pace map[string]int) {
	pace = map[string]int{}
	for i := range f.Crew {
		m := &f.Crew[i]
		for _, h := range m.Hours {
			length = max(length, hundredths(h.Hours))
		}
		for _, t := range m.Trades {
			if t.Alone {
				pace[t.Trade] += m.pace()
			}
		}
	}
	if length == 0 {
		length = 800
	}
	return length, pace
}

// wholePace is the pace of somebody who takes an hour for an hour.
const wholePace = 100

func (m *Member) pace() int {
	if m.PacePercent == 0 {
		return wholePace
	}
	return m.PacePercent
}

func ceil(a, b int) int { return (a + b - 1) / b }
