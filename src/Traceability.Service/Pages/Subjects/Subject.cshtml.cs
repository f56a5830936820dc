using Microsoft.AspNetCore.RateLimiting;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Records;
using Traceability.Service.People;
using Traceability.Service.Recall;
using Traceability.Service.Recording;

namespace Traceability.Service.Pages.Subjects;

[EnableRateLimiting(Operations.Costly.Policy)]
[Authorize(Policy = Access.Read)]
public sealed class SubjectModel(RecallReader recall, RecordReader records) : PageModel
{
    public const int MostRecords = 200;

    /// <summary>Units of one group that the page shows at first; all of them on request, and always in the exports.</summary>
    public const int MostUnits = 200;

    private const int MostSteps = 200;

    public string Key { get; private set; } = "";

    public Subject? Subject { get; private set; }

    public RecallUp Up { get; private set; } = null!;

    public IReadOnlyList<RecallStep> Below { get; private set; } = [];

    public IReadOnlyList<RecallStep> Above { get; private set; } = [];

    /// <summary>Whether every unit is shown.</summary>
    [BindProperty(SupportsGet = true)]
    public bool All { get; set; }

    public IReadOnlyList<Record> Records { get; private set; } = [];

    public bool Found { get; private set; }

    public async Task<IActionResult> OnGetAsync(string? key, CancellationToken cancel)
    {
        if (string.IsNullOrEmpty(key)) return NotFound();
        Key = key;
        if (Core.Records.Subject.TryParse(key, out var subject))
        {
            if (subject.Kind == "unit") return LocalRedirect(Words.Unit(subject.Id));
            Subject = subject;
            Up = await recall.UpAsync(subject, cancel);
            (Below, Above) = await recall.StepsAsync(subject, MostSteps, cancel);
            Records = await records.AboutAsync(subject, MostRecords, cancel);
            Found = Records.Count > 0 || Up.Units.Count > 0 || Below.Count > 0 || Above.Count > 0;
        }

        if (!Found) Response.StatusCode = StatusCodes.Status404NotFound;
        return Page();
    }

    public static string KindWord(string kind) => kind switch
    {
        "lot" => "Lot",
        "batch" => "Batch",
        _ => char.ToUpperInvariant(kind[0]) + kind[1..],
    };
}
