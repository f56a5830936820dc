using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Events;
using Traceability.Service.Decisions;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

/// <summary>Which inspector acts for which agency, from when until when.</summary>
[Authorize(Policy = Access.Inspectors)]
public sealed class InspectorsModel(Assignments assignments, Register register) : PageModel
{
    public IReadOnlyList<InspectorAssigned> Rows { get; private set; } = [];

    /// <summary>Whom an assignment may name.</summary>
    public IReadOnlyList<Person> People { get; private set; } = [];

    public string? Done { get; private set; }

    public string? Problem { get; private set; }

    public Task OnGetAsync(CancellationToken cancel) => ListAsync(cancel);

    public async Task OnPostAsync(string? person, string? agency, DateOnly from, DateOnly? through, string? document, string? pin, CancellationToken cancel)
    {
        if (!ModelState.IsValid)
        {
            Problem = "From and last day: must be days. Enter them again.";
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        }
        else
        {
            var decided = await assignments.AssignAsync(person, agency, from, through, string.IsNullOrWhiteSpace(document) ? null : document.Trim(), User.PersonId(), pin, cancel);
            if (decided.Problem is { } problem) (Problem, Response.StatusCode) = ($"{problem.Title}. {problem.Detail}", problem.Status!.Value);
            else Done = $"{person} acts for {agency?.Trim()} from {PlantSettings.Day(from)}.";
        }

        await ListAsync(cancel);
    }

    private async Task ListAsync(CancellationToken cancel)
    {
        Rows = await assignments.AllAsync(cancel);
        People = [.. register.People.Where(p => p.LapsedAt is null && p.Roles.Contains(Roles.AgencyInspector)).OrderBy(p => p.Id, StringComparer.Ordinal)];
    }
}
