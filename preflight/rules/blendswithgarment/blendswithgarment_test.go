package blendswithgarment_test

import (
	"testing"

	"peelcheck/preflight/rules/blendswithgarment"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, blendswithgarment.Rule) }
