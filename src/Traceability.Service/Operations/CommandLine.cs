namespace Traceability.Service.Operations;

/// <summary>The verbs of the one executable. Without a verb it serves.</summary>
public static class CommandLine
{
    public static async Task<int> RunAsync(string[] args)
    {
        var verb = args.Length > 0 && !args[0].StartsWith('-') ? args[0] : "serve";
        var rest = verb == "serve" && (args.Length == 0 || args[0] != "serve") ? args : args[1..];
        switch (verb)
        {
            case "serve":
                await using (var app = Host.Build(rest))
                {
                    await Host.PrepareAsync(app);
                    await app.RunAsync();
                }

                return 0;
            case "export" when rest.Length == 1:
                return await Imports.Records.ExportAsync(rest[0]);
            case "import" when rest.Length == 1:
                return await Imports.Records.ImportAsync(rest[0]);
            case "rebuild" when rest is ["links"] or ["units"]:
                return rest[0] == "links" ? await Linking.RebuildLinks.RunAsync() : await Assembling.RebuildUnits.RunAsync();
            default:
                await Console.Error.WriteLineAsync("""
                    usage: traceability [serve] [--key=value ...]
                           traceability export FILE        every record, exact bytes, one a line, in order of position
                           traceability import FILE        the same into an empty store
                           traceability rebuild links      the link index anew from the records, while facts come in
                           traceability rebuild units      every unit's row anew
                    """);
                return 2;
        }
    }
}
