using Traceability.PlantSimulator.Checking;

namespace Traceability.PlantSimulator.Verbs;

/// <summary>Holds the store against the journals.</summary>
internal static class CheckVerb
{
    private const int Shown = 20;

    public static async Task<int> RunAsync(Options options, CancellationToken cancel)
    {
        var database = options.Text("--database");
        var journals = options.All("--journal");
        if (journals.Count == 0) throw new UsageException("--journal is needed, once for each journal");
        options.Done();

        var result = await Ledger.CheckAsync(database, journals, "/service/", cancel);
        Console.WriteLine(result);
        Show("lost", result.Lost);
        Show("unexpected", result.Unexpected);
        Show("duplicated", result.Duplicated);
        Show("differing", result.Differing);
        return result.IsGood ? 0 : 1;
    }

    private static void Show(string what, IReadOnlyList<string> lines)
    {
        foreach (var line in lines.Take(Shown)) Console.WriteLine($"  {what}: {line}");
        if (lines.Count > Shown) Console.WriteLine($"  {what}: and {lines.Count - Shown} more");
    }
}
