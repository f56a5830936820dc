using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Service.Decisions;
using Traceability.Service.People;
using Traceability.Service.Units;

namespace Traceability.Service.Pages;

/// <summary>Nonconformances by age: whose answer is awaited, and whether a repair began before its approval.</summary>
[Authorize(Policy = Access.Read)]
public sealed class NonconformancesModel(NonconformanceReader reader, Dispositions dispositions, TimeProvider clock) : PageModel
{
    public IReadOnlyList<NonconformanceRow> Rows { get; private set; } = [];

    public bool MayDispose => User.IsInRole(Roles.QualityEngineer);

    public string? Said { get; private set; }

    public string? Problem { get; private set; }

    public int Days(NonconformanceRow row) => (int)(clock.GetUtcNow() - row.State.RaisedAt).TotalDays;

    /// <summary>Whose answer is awaited.</summary>
    public static string Of(Awaited awaited) => awaited switch
    {
        Awaited.Disposition => "quality engineer: disposition",
        Awaited.Letter => "engineer of record: letter",
        Awaited.Repair => "yard: repair",
        Awaited.Closing => "quality engineer: closing",
        _ => "nobody",
    };

    public async Task OnGetAsync(CancellationToken cancel) => Rows = await reader.ReadAsync(cancel);

    [May(Access.Dispose)]
    public async Task OnPostAsync(string? nonconformance, string? disposition, string? procedure, string? letterTitle, string? letterSha256, string? pin, CancellationToken cancel)
    {
        var letter = string.IsNullOrWhiteSpace(letterSha256) ? null : new Letter(letterTitle?.Trim() is { Length: > 0 } title ? title : "Letter of the engineer of record", letterSha256.Trim());
        var decided = await dispositions.DisposeAsync(nonconformance, disposition, procedure, letter, User.PersonId(), pin, cancel);
        if (decided.Problem is { } problem)
        {
            Problem = $"{problem.Title}. {problem.Detail}";
            Response.StatusCode = problem.Status!.Value;
        }
        else
        {
            Said = $"{nonconformance}: {disposition} decided and recorded.";
        }

        Rows = await reader.ReadAsync(cancel);
    }
}
