using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Concrete;
using Traceability.Core.Records;
using Traceability.Service.People;
using Traceability.Service.Strength;

namespace Traceability.Service.Pages.Strength;

[Authorize(Policy = Access.Read)]
public sealed class MixModel(StrengthReader reader) : PageModel
{
    public string Mix { get; private set; } = "";

    public MixStrength? Strength { get; private set; }

    public async Task<IActionResult> OnGetAsync(string mix, CancellationToken cancel)
    {
        Mix = mix;
        Strength = Subject.IsId(mix, "mix") ? await reader.ReadAsync(mix, cancel) : null;
        if (Strength is null) Response.StatusCode = StatusCodes.Status404NotFound;
        return Page();
    }

    public static string Psi(decimal? psi) => psi is { } value ? value.ToString("#,0", CultureInfo.InvariantCulture) : "";

    public static string Psi(double psi) => Psi((decimal)(Math.Round(psi / 10) * 10));

    public static string Share(double share) => share < 0.01 ? "under 1 %" : share > 0.99 ? "over 99 %" : share.ToString("0 %", CultureInfo.InvariantCulture);

    public static string Of(ControlClass? of) => of switch
    {
        null => "not enough tests",
        ControlClass.VeryGood => "very good",
        { } other => other.ToString().ToLowerInvariant(),
    };

    /// <summary>What the criteria ask for after a test.</summary>
    public static Mark Of(SeriesPoint point) => point switch
    {
        { Investigate: true } => new("✕", "investigate its units; raise the mix", Urgency.Act),
        { MixAction: true } => new("✕", "raise the mix's average", Urgency.Act),
        _ => new("✓", "within the criteria", Urgency.None),
    };
}
