using System.Globalization;
using Serilog;
using Traceability.Service.Operations;

// Compact JSON on standard output, ids as properties. MassTransit logs a stack trace per message of a failed batch; the
// consumer says it once instead.
Log.Logger = new LoggerConfiguration()
    .MinimumLevel.Is(Enum.Parse<Serilog.Events.LogEventLevel>(Environment.GetEnvironmentVariable("LOG_LEVEL") ?? "Information", ignoreCase: true))
    .MinimumLevel.Override("Microsoft", Serilog.Events.LogEventLevel.Warning)
    .MinimumLevel.Override("Microsoft.Hosting.Lifetime", Serilog.Events.LogEventLevel.Information)
    .MinimumLevel.Override("Marten", Serilog.Events.LogEventLevel.Warning)
    .MinimumLevel.Override("JasperFx", Serilog.Events.LogEventLevel.Warning)
    .MinimumLevel.Override("Npgsql", Serilog.Events.LogEventLevel.Warning)
    .MinimumLevel.Override("MassTransit", Serilog.Events.LogEventLevel.Error)
    .Enrich.FromLogContext()
    .WriteTo.Console(new Serilog.Formatting.Compact.CompactJsonFormatter())
    .CreateLogger();
CultureInfo.DefaultThreadCurrentCulture = CultureInfo.InvariantCulture;
try
{
    return await CommandLine.RunAsync(args);
}
finally
{
    await Log.CloseAndFlushAsync();
}
