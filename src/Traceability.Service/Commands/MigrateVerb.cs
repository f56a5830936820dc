using System.ComponentModel;
using Marten;
using Npgsql;
using Spectre.Console.Cli;
using Traceability.Service.Operations;

namespace Traceability.Service.Commands;

public sealed class MigrateSettings : VerbSettings
{
    [CommandOption("--dry-run")]
    [Description("Names what would be run, and runs nothing.")]
    public bool DryRun { get; set; }

    [CommandOption("--service-role <ROLE>")]
    [Description("A role of the database that web and worker connect as: it is given what they need and nothing more.")]
    public string? ServiceRole { get; set; }

    [CommandOption("--signer-role <ROLE>")]
    [Description("The same for the signer.")]
    public string? SignerRole { get; set; }
}

/// <summary>Brings the database to what this version needs.</summary>
public sealed class MigrateVerb : Verb<MigrateSettings>
{
    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, MigrateSettings settings, CancellationToken cancel)
    {
        var source = services.GetRequiredService<NpgsqlDataSource>();
        var names = settings.DryRun ? [.. (await Schema.OutstandingAsync(source, cancel)).Select(Schema.Short)]
            : await Schema.MigrateAsync(source, services.GetRequiredService<IConfiguration>().GetConnectionString("Postgres")!, services.GetRequiredService<IDocumentStore>(), cancel);
        if (!settings.DryRun)
        {
            await using var connection = await source.OpenConnectionAsync(cancel);
            if (settings.ServiceRole is { } service) await DatabaseRoles.GrantAsync(connection, service, DatabaseRoles.Service, cancel);
            if (settings.SignerRole is { } signer) await DatabaseRoles.GrantAsync(connection, signer, DatabaseRoles.Signer, cancel);
        }

        if (settings.Json) terminal.Json(new { dryRun = settings.DryRun, migrations = names });
        else terminal.Out.WriteLine(names.Count == 0 ? "The database has every migration of this version." : $"{(settings.DryRun ? "Would run" : "Ran")}: {string.Join(", ", names)}.");
        return ExitCodes.Done;
    }
}
