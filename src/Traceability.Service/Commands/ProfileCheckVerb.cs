using System.ComponentModel;
using Spectre.Console.Cli;
using Traceability.Service.Imports;

namespace Traceability.Service.Commands;

public sealed class ProfileCheckSettings : VerbSettings
{
    [CommandArgument(0, "<FILES>")]
    [Description("Profiles as YAML; one may inherit another of them, or one that ships with the service.")]
    public required string[] Files { get; set; }
}

/// <summary>Reads profile files, names every mistake with its line and reason, and shows the whole profile of each that has none.</summary>
public sealed class ProfileCheckVerb : AsyncCommand<ProfileCheckSettings>
{
    protected override Task<int> ExecuteAsync(CommandContext context, ProfileCheckSettings settings, CancellationToken cancellationToken)
    {
        var terminal = (Terminal)context.Data!;
        if (settings.Files.FirstOrDefault(f => !File.Exists(f)) is { } missing) throw VerbException.Called($"{missing} is not there.");
        return Task.FromResult(ProfileFiles.Run(settings.Files, settings.Json, terminal.Out, terminal.Error) == 0 ? ExitCodes.Done : ExitCodes.Wrong);
    }
}
