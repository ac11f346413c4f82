"""What each rule and each formula looks at, and what it cannot see."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from health.boards.explain import explanations, formula_pages, rule_page
from station.access import needs


@needs("read")
def explain(request: HttpRequest) -> HttpResponse:
    return render(request, "health/explain.html", {"board": explanations()})


@needs("read")
def explained(request: HttpRequest, name: str) -> HttpResponse:
    """The page of a rule or of a formula: no name is both."""
    rule, formula = rule_page(name), formula_pages().get(name)
    if rule is not None:
        return render(request, "health/explain_rule.html", {"board": rule})
    if formula is not None:
        return render(request, "health/explain_formula.html", {"board": formula})
    raise Http404
