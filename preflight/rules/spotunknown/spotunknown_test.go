package spotunknown_test

import (
	"testing"

	"peelcheck/preflight/rules/spotunknown"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, spotunknown.Rule) }
