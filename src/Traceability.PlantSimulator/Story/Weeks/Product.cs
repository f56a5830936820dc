using System.Security.Cryptography;
using System.Text;
using Traceability.Core.Events;
using Traceability.Core.Quantities;

namespace Traceability.PlantSimulator.Story.Weeks;

/// <summary>An invented agency with its inspector.</summary>
internal sealed record Agency(string Name, Worker Inspector);

/// <summary>A contract of an agency, and the profile version it adopted, name@version.</summary>
internal sealed record Contract(string Id, string Title, Agency Agency, string Profile);

/// <summary>A mix, in pounds a cubic yard, aggregates saturated and surface dry.</summary>
/// <param name="Flow">Two diameters near which its slump flow lies, inches; null for concrete that does not flow.</param>
/// <param name="Slump">Its slump, inches; null for concrete without one.</param>
internal sealed record Mix(string Id, string Designation, decimal Cement, decimal Slag, decimal Water, decimal Sand, decimal Stone, decimal Reducer, decimal AirAgent, string? Flow, string? Slump, bool DryCast = false);

/// <summary>A mark with its drawing, its concrete and how it is lifted.</summary>
/// <param name="Contract">Null for a product cast to stock.</param>
internal sealed record Product(
    string Mark, string Drawing, string Kind, Contract? Contract, Mix Mix, IReadOnlyList<string> Forms, string SetUp, int Batches, string YardsABatch,
    IReadOnlyList<BarLine> Bars, IReadOnlyList<SpecifiedDimension> Dimensions, IReadOnlyList<EmbedLine> Embeds, LiftingData Lifting)
{
    public DrawingApproved Approval(string revision, DateOnly on, string document) => new(
        Drawing, revision, Kind, on, document, Reading.Parse("5000"), Lifting.StrengthRequiredPsi, Reading.Parse("5000"), Bars, Dimensions, Embeds, Lifting);
}

/// <summary>The invented agencies, contracts and mixes.</summary>
internal static class Books
{
    public static readonly Agency North = new("Invented Northern Highway Department", Plant.NorthInspector);
    public static readonly Agency West = new("Invented Western Bridge Commission", Plant.WestInspector);

    public static readonly Contract Bridge = new("C-7741", "An invented bridge of eight rigid frames", North, "invented-north@1");
    public static readonly Contract Road = new("C-8802", "An invented road with culverts and manholes", West, "invented-west@1");

    /// <summary>Let later than the road, under the commission's next version: a sample stands for a group of units.</summary>
    public static readonly Contract Median = new("C-8815", "Barrier along the invented road", West, "invented-west@2");

    public static readonly Mix Scc = new("MX-50-SCC", "5,000 psi self-consolidating", 560, 190, 285, 1370, 1440, 4.4m, 0.41m, "26", null);
    public static readonly Mix Barrier = new("MX-50-B", "5,000 psi, 5 in slump", 540, 180, 280, 1300, 1530, 2.2m, 0.43m, null, "5");
    public static readonly Mix DryCast = new("MX-45-D", "Dry-cast for manhole sections", 520, 120, 180, 1600, 1650, 0.8m, 0.30m, null, null, DryCast: true);

    /// <summary>SHA-256 of words that stand for a document, lower-case hex.</summary>
    public static string Hash(string words) => Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(words)));

    public static IReadOnlyList<Mix> Mixes { get; } = [Scc, Barrier, DryCast];

    public static IReadOnlyList<Contract> Contracts { get; } = [Bridge, Road, Median];
}
