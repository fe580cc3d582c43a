package api

import (
	"fmt"
	"sync"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/schedule"
)

// plansHeld is how many workshops' plans are kept in memory; a plan of a year
// of 200 vans takes some two megabytes.
const plansHeld = 200

// plans keeps the plan of each workshop, with the numbers it was read at. It
// holds only what was committed: what a transaction has written itself is put
// in for as long as it asks, and taken out again.
type plans struct {
	mu   sync.Mutex
	held *recent[uuid.UUID, *heldPlan]
}

type heldPlan struct {
	mu      sync.Mutex // a plan is not for several at once
	numbers store.PlanNumbers
	plan    *schedule.Plan
}

func newPlans() *plans { return &plans{held: newRecent[uuid.UUID, *heldPlan](plansHeld)} }

func (k *plans) of(workshop uuid.UUID) *heldPlan {
	k.mu.Lock()
	defer k.mu.Unlock()
	if found, ok := k.held.get(workshop); ok {
		return found
	}
	h := &heldPlan{}
	k.held.put(workshop, h)
	return h
}

// onPlan asks the workshop's plan. What fn books it must take out again.
func (s *Server) onPlan(c *gin.Context, fn func(tx store.ReadTx, p *schedule.Plan) error) error {
	return s.readTx(c, func(tx store.ReadTx) error {
		h := s.plans.of(tx.Principal().Workshop)
		h.mu.Lock()
		defer h.mu.Unlock()
		now, err := tx.PlanNumbers()
		if err != nil {
			return err
		}
		switch {
		case h.plan == nil || now.Floor > h.numbers.Floor:
			plan, err := readPlan(tx)
			if err != nil {
				return err
			}
			h.plan, h.numbers = plan, now
		case now.Plan > h.numbers.Plan:
			newer, err := tx.SlotsSince(h.numbers.Plan)
			if err != nil {
				return err
			}
			for i := range newer {
				bookOrTake(h.plan, &newer[i])
			}
			h.numbers = now
		}
		return fn(tx, h.plan)
	})
}

// onPlanToWrite asks the plan as the transaction sees it. Who calls it has
// asked onPlan before the transaction, so that there is little to read in it.
func (s *Server) onPlanToWrite(tx store.WriteTx, fn func(p *schedule.Plan) error) error {
	h := s.plans.of(tx.Principal().Workshop)
	h.mu.Lock()
	defer h.mu.Unlock()
	now, err := tx.PlanNumbers()
	if err != nil {
		return err
	}
	if h.plan == nil || now.Floor != h.numbers.Floor || now.Plan < h.numbers.Plan {
		plan, err := readPlan(tx.ReadTx)
		if err != nil {
			return err
		}
		return fn(plan)
	}
	newer, err := tx.SlotsSince(h.numbers.Plan)
	if err != nil {
		return err
	}
	for i := range newer {
		key := newer[i].Job.String()
		if was, had := h.plan.Booked(key); had {
			defer h.plan.Book(key, was)
		} else {
			defer h.plan.Take(key)
		}
		bookOrTake(h.plan, &newer[i])
	}
	return fn(h.plan)
}

// readPlan reads the whole of it.
func readPlan(tx store.ReadTx) (*schedule.Plan, error) {
	floor, err := wholeFloor(tx)
	if err != nil {
		return nil, err
	}
	plan, faults := schedule.New(floor)
	if err := faults.Err(); err != nil {
		return nil, fmt.Errorf("the floor as it is kept: %w", err)
	}
	slots, err := tx.SlotsSince(0)
	if err != nil {
		return nil, err
	}
	for i := range slots {
		bookOrTake(plan, &slots[i])
	}
	return plan, nil
}

// wholeFloor is the floor with its crew.
func wholeFloor(tx store.ReadTx) (schedule.Floor, error) {
	floor, err := tx.Floor()
	if err != nil {
		return floor.Content, err
	}
	crew, err := tx.Crew()
	for i := range crew {
		floor.Content.Crew = append(floor.Content.Crew, crew[i].Leaving())
	}
	return floor.Content, err
}

func bookOrTake(p *schedule.Plan, s *store.Slot) {
	if s.State == store.SlotReleased {
		p.Take(s.Job.String())
	} else {
		p.Book(s.Job.String(), s.Days)
	}
}
