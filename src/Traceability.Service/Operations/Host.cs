using System.Text.Json;
using System.Text.Json.Serialization;
using JasperFx;
using JasperFx.Events;
using JasperFx.Events.Daemon;
using Marten;
using MassTransit;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Diagnostics.HealthChecks;
using Microsoft.Extensions.DependencyInjection.Extensions;
using Microsoft.Extensions.Diagnostics.HealthChecks;
using Microsoft.Extensions.FileProviders;
using Npgsql;
using OpenTelemetry.Metrics;
using OpenTelemetry.Trace;
using Serilog;
using Traceability.Core.Events;
using Weasel.Core;
using Traceability.Service.Assembling;
using Traceability.Service.Board;
using Traceability.Service.Decisions;
using Traceability.Service.Edge;
using Traceability.Service.Intake;
using Traceability.Service.Linking;
using Traceability.Service.Log;
using Traceability.Service.Pages;
using Traceability.Service.People;
using Traceability.Service.Profiles;
using Traceability.Service.Recall;
using Traceability.Service.Recording;
using Traceability.Service.Strength;
using Traceability.Service.Units;

namespace Traceability.Service.Operations;

/// <summary>Puts the service together by its configuration: roles web, worker, signer; bus in-process or rabbitmq.</summary>
public static class Host
{
    public static WebApplication Build(string[] args, Action<WebApplicationBuilder>? more = null)
    {
        var builder = WebApplication.CreateBuilder(new WebApplicationOptions { Args = args, ContentRootPath = AppContext.BaseDirectory });
        more?.Invoke(builder);
        var roles = (builder.Configuration["Roles"] ?? "web,worker,signer").Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);
        var bus = builder.Configuration["Bus"] ?? "inprocess";
        bool web = roles.Contains("web"), worker = roles.Contains("worker"), signer = roles.Contains("signer");
        if (roles.Except(["web", "worker", "signer"]).FirstOrDefault() is { } unknown)
            throw new SettingException($"Roles: '{unknown}' is not web, worker or signer.");
        if (bus is not ("inprocess" or "rabbitmq"))
            throw new SettingException($"Bus: '{bus}' is not inprocess or rabbitmq.");
        builder.WebHost.ConfigureKestrel(k =>
        {
            k.AddServerHeader = false;
            k.Limits.MaxRequestBodySize = Limits.LargestBody;
            k.Limits.MaxConcurrentConnections = 4000;
            k.Limits.RequestHeadersTimeout = TimeSpan.FromSeconds(15);
        });
        builder.Services.AddSerilog();
        AddClock(builder);
        builder.Services.AddSingleton(PlantZone.Time(builder.Configuration));
        AddStore(builder, worker, alone: web && worker);
        builder.Services.AddSingleton<DossierStore>().AddSingleton<UnitReader>().AddSingleton<Recorder>().AddSingleton<Rehearsal>().AddSingleton<Receipts>().AddSingleton<Quarantine>().AddSingleton<Parking>().AddSingleton<RecordReader>().AddSingleton<RecallReader>().AddSingleton<ProfileShelf>().AddSingleton<TwoProfiles>().AddSingleton<StrengthReader>().AddSingleton<DaemonWatch>();
        builder.Services.AddSingleton<LogReader>().AddSingleton(Witnesses.Of(builder.Configuration)).AddSingleton<CosignatureStore>().AddSingleton<Cosigning>();
        builder.Services.AddSingleton<Replay.ReplayReader>();
        builder.Services.TryAddSingleton(SecretCost.Default);
        builder.Services.AddSingleton<Secrets>().AddSingleton<Attempts>();
        var health = builder.Services.AddHealthChecks().AddCheck<DatabaseHealth>("database").AddCheck<RecoveryHealth>("recoveries");
        if (bus == "rabbitmq")
        {
            health.AddCheck<BusHealth>("broker");
            AddBus(builder, worker);
        }

        health.AddCheck<LagHealth>("subscriptions-lag").AddCheck<HighWaterHealth>("subscriptions-move");
        builder.Services.AddSingleton<HighWaterHealth>().AddHostedService<Gauges>();
        builder.Services.AddSingleton<Readiness>().TryAddSingleton<SecurityLog>();
        if (web) AddWeb(builder, bus);
        if (worker || bus == "inprocess") builder.Services.AddHostedService<Weigher>();
        if (worker)
        {
            builder.Services.AddSingleton<LinkAudit>().AddHostedService(s => s.GetRequiredService<LinkAudit>());
            health.AddCheck<LinkHealth>("links");
        }

        if (worker) builder.Services.AddSingleton<Assembler>().AddHostedService(s => s.GetRequiredService<Assembler>());
        AddLog(builder, signer);
        AddPackets(builder, web, signer);
        if (signer) health.AddCheck<SignerHealth>("signer");
        builder.Services.AddOpenTelemetry()
            .WithTracing(t =>
            {
                t.AddSource(Telemetry.Name, "MassTransit", "Npgsql").AddAspNetCoreInstrumentation(o => o.Filter = c => !c.Request.Path.StartsWithSegments("/health"));
                if (builder.Configuration["OTEL_EXPORTER_OTLP_ENDPOINT"] is { Length: > 0 }) t.AddOtlpExporter();
            })
            .WithMetrics(m =>
            {
                m.AddMeter(Telemetry.Name, "Npgsql", "MassTransit").AddAspNetCoreInstrumentation();
                if (builder.Configuration["OTEL_EXPORTER_OTLP_ENDPOINT"] is { Length: > 0 }) m.AddOtlpExporter();
            });

        var app = builder.Build();
        MapHealth(app);
        if (web) MapWeb(app);
        return app;
    }

    /// <summary>Creates what the database lacks, and warns when it is not durable. Waits for the database only in the worker: intake starts without it.</summary>
    public static Task PrepareAsync(WebApplication app) => PrepareAsync(app.Services, CancellationToken.None);

    /// <inheritdoc cref="PrepareAsync(WebApplication)"/>
    public static async Task PrepareAsync(IServiceProvider services, CancellationToken cancel)
    {
        var source = services.GetRequiredService<NpgsqlDataSource>();
        var log = services.GetRequiredService<ILoggerFactory>().CreateLogger("Startup");
        var patience = services.GetRequiredService<IConfiguration>()["Bus"] == "rabbitmq" && services.GetService<Assembler>() is null ? TimeSpan.FromSeconds(3) : TimeSpan.FromMinutes(2);
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancel);
        limit.CancelAfter(patience);
        while (true)
        {
            try
            {
                var configuration = services.GetRequiredService<IConfiguration>();
                if (configuration.GetValue("Database:Migrate", true)) await Schema.MigrateAsync(source, configuration.GetConnectionString("Postgres")!, services.GetRequiredService<IDocumentStore>(), limit.Token);
                else if (await Schema.OutstandingAsync(source, limit.Token) is { Count: > 0 } outstanding)
                    throw new SettingException($"The database lacks {string.Join(", ", outstanding.Select(Schema.Short))}. Run ops/plant migrate as the user who owns the tables; Database:Migrate is off, so the service does not do it at start.");
                await Startup.CheckDurabilityAsync(source, log, limit.Token);
                return;
            }
            // A database that is there and refuses the connection comes to none by waiting. Intake starts without it all the same, and readiness says why.
            catch (Exception e) when (Connections.WhyNoDatabase(e) is { } why && patience > TimeSpan.FromMinutes(1))
            {
                throw new SettingException($"{char.ToUpperInvariant(why[0])}{why[1..]}.", e);
            }
            catch (Exception e) when (Recorder.IsAway(e) || Connections.WhyNoDatabase(e) is not null)
            {
                if (limit.IsCancellationRequested)
                {
                    if (patience < TimeSpan.FromMinutes(1)) return;
                    throw;
                }

                await Task.Delay(TimeSpan.FromMilliseconds(500), cancel);
            }
        }
    }

    private static void AddClock(WebApplicationBuilder builder)
    {
        if (!builder.Configuration.GetValue("Scenario:Clock", false))
        {
            builder.Services.AddSingleton(TimeProvider.System);
            return;
        }

        builder.Services.AddSingleton<ScenarioClock>().AddSingleton<TimeProvider>(s => s.GetRequiredService<ScenarioClock>());
        builder.Services.AddSingleton<SharedScenarioClock>().AddHostedService(s => s.GetRequiredService<SharedScenarioClock>());
    }

    private static void AddStore(WebApplicationBuilder builder, bool worker, bool alone)
    {
        var connection = builder.Configuration.GetConnectionString("Postgres")
            ?? throw new SettingException("ConnectionStrings:Postgres is not set. Give the Npgsql connection string of the plant's database.");
        Connections.CheckDatabase(builder.Configuration, connection);
        builder.Services.AddSingleton(_ =>
        {
            var settings = new NpgsqlConnectionStringBuilder(connection) { MaxAutoPrepare = 50, ApplicationName = "traceability" };
            settings.MaxPoolSize = Math.Max(settings.MaxPoolSize, 40);
            // Compiling the recursive queries of the link index takes tens of times longer than running them.
            settings.Options = $"{settings.Options} -c jit=off".Trim();
            return new NpgsqlDataSourceBuilder(settings.ConnectionString).Build();
        });
        var marten = builder.Services.AddMarten(services => Store(services.GetRequiredService<NpgsqlDataSource>())).UseLightweightSessions();
        if (worker) marten.AddAsyncDaemon(alone ? DaemonMode.Solo : DaemonMode.HotCold);
    }

    /// <summary>How Marten keeps the events. Tables are made by a migration, never while serving. Names are explicit and frozen; nothing is ever skipped, masked or archived.</summary>
    public static StoreOptions Store(NpgsqlDataSource source)
    {
        var options = new StoreOptions { AutoCreateSchemaObjects = AutoCreate.None, DatabaseSchemaName = "marten" };
        options.Connection(source);
        options.DisableNpgsqlLogging = true;
        // Casing and enums are said to Marten itself: it sets them anew on options that it is given.
        options.UseSystemTextJsonForSerialization(EnumStorage.AsString, Casing.CamelCase, o =>
        {
            o.TypeInfoResolver = FactJson.Options.TypeInfoResolver;
            o.DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull;
        });
        options.Events.StreamIdentity = StreamIdentity.AsString;
        options.Events.AppendMode = EventAppendMode.Rich;
        options.Events.EnableUniqueIndexOnEventId = true;
        options.Events.UseListenNotifyForEventAppends = true;
        foreach (var type in FactCatalog.All.Values) options.Events.MapEventType(type.Clr, type.Type);
        options.Projections.Errors.SkipApplyErrors = false;
        options.Projections.Errors.SkipSerializationErrors = false;
        options.Projections.Errors.SkipUnknownEvents = false;
        options.Projections.RebuildErrors.SkipApplyErrors = false;
        options.Projections.RebuildErrors.SkipSerializationErrors = false;
        options.Projections.RebuildErrors.SkipUnknownEvents = false;
        options.Projections.Subscribe(new MarkStale(), o => o.Options.BatchSize = 500);
        options.Projections.Subscribe(new LogLeaves(), o => o.Options.BatchSize = 500);
        options.Schema.For<UnitRow>().Index(u => u.Watch);
        options.Schema.For<Device>();
        options.Schema.For<Person>();
        return options;
    }

    private static void AddBus(WebApplicationBuilder builder, bool worker)
    {
        var broker = BrokerConnection.Of(builder.Configuration);
        builder.Services.AddSingleton(broker).AddSingleton<BusTopology>().AddHostedService(s => s.GetRequiredService<BusTopology>());
        builder.Services.AddMassTransit(x =>
        {
            x.DisableUsageTelemetry();
            if (worker)
            {
                x.AddConsumer<FactsConsumer>(c => c.Options<BatchOptions>(o =>
                    o.SetMessageLimit(200).SetTimeLimit(TimeSpan.FromMilliseconds(20)).SetConcurrencyLimit(1)));
            }

            x.UsingRabbitMq((context, rabbit) =>
            {
                broker.Host(rabbit);
                if (!worker) return;
                var queue = BusTopology.QueueName(builder.Configuration);
                rabbit.ReceiveEndpoint(queue, e =>
                {
                    e.ConfigureConsumeTopology = false;
                    foreach (var (name, value) in BusTopology.Arguments(queue)) e.SetQueueArgument(name, value);
                    // A message whose recording was broken off goes back to its queue. The recorder itself parks single
                    // entries, so no message is ever at fault as a whole.
                    e.RethrowFaultedMessages();
                    e.PrefetchCount = 800;
                    e.ConfigureConsumer<FactsConsumer>(context);
                });
            });
        });
    }

    private static void AddWeb(WebApplicationBuilder builder, string bus)
    {
        var edge = EdgeSettings.Of(builder.Configuration);
        builder.Services.AddSingleton(edge).AddSecurityHeaders(builder.Configuration);
        builder.Services.AddLimits();
        builder.Services.AddSingleton<Sessions>().AddHostedService(s => s.GetRequiredService<Sessions>());
        builder.Services.AddSingleton<Register>().AddHostedService(s => s.GetRequiredService<Register>());
        builder.Services.AddSingleton<DecisionRoom>().AddSingleton<Releases>().AddSingleton<Overriding>().AddSingleton<Corrections>()
            .AddSingleton<AgencyActs>().AddSingleton<Assignments>().AddSingleton<Letters>().AddSingleton<Dispositions>().AddSingleton<LotsAndMarks>().AddSingleton<ProfilesInForce>().AddSingleton<IntegrityReader>().AddSingleton<NonconformanceReader>();
        builder.Services.AddSingleton<Signing>().AddSingleton<OwnContracts>().AddSingleton<SignedRequests>().AddSingleton<SignOns>().AddSingleton<SignOnTokens>().AddSingleton(PasskeySettings.Of(builder.Configuration)).AddSingleton<Passkeys>().AddSingleton<WaitingRoom>().AddSingleton<PeopleDesk>().AddSingleton<OwnSessions>().AddSingleton<Authority>().AddSingleton<EnrolmentCodes>().AddSingleton<DeviceSequences>().AddAccess(edge.Cookie("trace-session"));
        builder.Services.AddProblemDetails(o => o.CustomizeProblemDetails = FailureInWords.Complete);
        builder.Services.AddOpenApi(ApiDescription.Configure);
        builder.Services.AddPages(edge.Cookie("trace-form"));
        builder.Services.Configure<RouteHandlerOptions>(o => o.ThrowOnBadRequest = true);
        builder.Services.ConfigureHttpJsonOptions(o =>
        {
            o.SerializerOptions.AllowDuplicateProperties = false;
            o.SerializerOptions.RespectNullableAnnotations = true;
            o.SerializerOptions.Converters.Add(new JsonStringEnumConverter(JsonNamingPolicy.CamelCase));
            o.SerializerOptions.DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull;
        });
        builder.Services.AddSingleton<FactIntake>().TryAddSingleton<DeviceLimits>();
        builder.Services.AddSingleton<Notices>().AddHostedService(s => s.GetRequiredService<Notices>());
        if (bus == "rabbitmq")
        {
            builder.Services.TryAddSingleton<IHandover>(s => new BusHandover(s.GetRequiredService<IBus>(), s.GetRequiredService<BusTopology>()));
        }
        else
        {
            builder.Services.AddSingleton<InProcessHandover>().AddHostedService(s => s.GetRequiredService<InProcessHandover>()).TryAddSingleton<IHandover>(s => s.GetRequiredService<InProcessHandover>());
        }
    }

    private static void AddLog(WebApplicationBuilder builder, bool signer)
    {
        if (!signer) return;
        var folder = builder.Configuration["Signer:Folder"] ?? Path.Combine(AppContext.BaseDirectory, "signer");
        builder.Services.AddSingleton(new LogSignerOptions(builder.Configuration["Signer:Origin"] ?? "plant.example/log", Path.Combine(folder, "log-key.pem"), Path.Combine(folder, "log-state.json"), builder.Configuration["Signer:MemoryFile"]));
        builder.Services.AddSingleton<OutsideMemory>().AddSingleton<LogSigner>().AddHostedService<Witnessing>();
        builder.Services.AddHostedService(s => ActivatorUtilities.CreateInstance<LogSealing>(s, TimeSpan.FromMilliseconds(500)));
    }

    private static void AddPackets(WebApplicationBuilder builder, bool web, bool signer)
    {
        builder.Services.AddSingleton<Packets.PacketStore>();
        if (web) builder.Services.AddSingleton<Packets.PacketSealing>().AddSingleton<Packets.PacketDesk>().AddSingleton<Packets.LoadCertificates>();
        if (signer) builder.Services.AddHostedService<Packets.ManifestSigning>();
    }

    private static void MapHealth(WebApplication app)
    {
        // Liveness runs no checks: a service that waits for its database must not be restarted for it.
        app.MapHealthChecks("/health/live", new HealthCheckOptions { Predicate = _ => false }).AllowAnonymous();
        app.MapGet("/health/ready", async (Readiness readiness, CancellationToken cancel) =>
        {
            var report = await readiness.ReportAsync(cancel);
            return Results.Json(new
            {
                status = report.Status.ToString(),
                checks = report.Entries.ToDictionary(e => e.Key, e => new { status = e.Value.Status.ToString(), says = e.Value.Description }),
            }, statusCode: report.Status == HealthStatus.Unhealthy ? StatusCodes.Status503ServiceUnavailable : StatusCodes.Status200OK);
        }).AllowAnonymous().ExcludeFromDescription();
    }

    private static void MapWeb(WebApplication app)
    {
        var edge = app.Services.GetRequiredService<EdgeSettings>();
        // First of all: everything behind it rests on who really asks, and how.
        if (edge.Proxies.Count > 0) app.UseForwardedHeaders(edge.Forwarded());
        app.UseSecurityHeaders();
        app.UseMiddleware<PlainHttp>();
        if (edge.Https) app.UseHsts();
        // What programs are answered is nobody's to keep on the way; who may read it can change.
        app.UseWhen(http => http.Request.Path.StartsWithSegments("/v1", StringComparison.Ordinal), programs => programs.Use((http, next) =>
        {
            http.Response.Headers.CacheControl = "no-store";
            return next(http);
        }));
        // Nor is a page: the next person at this computer may be another one. The kiosk's page holds nothing, and is kept by its own worker.
        app.Use((http, next) =>
        {
            http.Response.OnStarting(() =>
            {
                var answer = http.Response;
                if (answer.ContentType?.StartsWith("text/html", StringComparison.OrdinalIgnoreCase) == true && !(http.Request.PathBase + http.Request.Path).StartsWithSegments("/kiosk", StringComparison.Ordinal)) answer.Headers.CacheControl = "no-store";
                return Task.CompletedTask;
            });
            return next(http);
        });
        // A browser gets a page that says what went wrong, a program a problem in JSON.
        app.UseStatusCodePagesWithReExecute("/went-wrong/{0}");
        app.Use((http, next) =>
        {
            if (!Pages.WentWrong.IsPage(http)) http.Features.Get<IStatusCodePagesFeature>()!.Enabled = false;
            return next(http);
        });
        // A failure of this program is always logged, also where a page says that something went wrong.
        app.UseExceptionHandler(new ExceptionHandlerOptions { SuppressDiagnosticsCallback = context => FailureInWords.IsExpected(context.Exception) });
        app.UseWhen(http => !Pages.WentWrong.IsPage(http), programs => programs.UseStatusCodePages());
        ServeKiosk(app);
        app.UseStaticFiles();
        app.UseMiddleware<SameOrigin>();
        app.UseRouting();
        app.UseRequestTimeouts();
        app.UseAuthentication();
        app.UseRateLimiter();
        app.UseAuthorization();
        app.UseMiddleware<OwnContractsOnly>();
        app.MapOpenApi().AllowAnonymous();
        app.UseSwaggerUI(o => { o.RoutePrefix = "api-docs"; o.SwaggerEndpoint("/openapi/v1.json", "Plant traceability"); o.DocumentTitle = "API of the plant"; o.InjectStylesheet("/api.css"); });
        app.MapIntake();
        app.MapSchemas();
        app.MapUnits();
        app.MapProfiles();
        app.MapRecall();
        app.MapStrength();
        app.MapDecisions();
        app.MapLetters();
        app.MapWaiting();
        app.MapQuarantine();
        app.MapParking();
        app.MapLog().RequireAuthorization(Access.ReadOrDevice);
        app.MapTiles(open => open.AllowAnonymous(), entries => entries.RequireAuthorization(Access.LogEntries));
        app.MapSignIn();
        app.MapPeople();
        app.MapDevices();
        app.MapKiosk();
        app.MapFreeText();
        app.MapNotices();
        app.MapRazorPages();
        Packets.PacketEndpoints.MapPackets(app);
        Replay.ReplayEndpoints.MapReplay(app);
        BoardEndpoints.MapBoard(app);
        if (app.Services.GetService<SharedScenarioClock>() is { } scenario)
        {
            app.MapPost("/v1/scenario/clock", async (ScenarioTime time, TimeProvider clock, CancellationToken cancel) =>
                {
                    await scenario.SetAsync(time.Now, cancel);
                    return Results.Ok(new { now = clock.GetUtcNow() });
                })
                .RequireAuthorization(Access.Scenario).WithTags("Operations").WithSummary("Set the scenario clock; demonstrations only");
        }
    }

    private sealed record ScenarioTime(DateTimeOffset Now);

    // The kiosk is a folder of published files; the service only hands them out.
    private static void ServeKiosk(WebApplication app)
    {
        if (app.Configuration["Kiosk:Root"] is not { Length: > 0 } root || !Directory.Exists(root)) return;
        var types = new Microsoft.AspNetCore.StaticFiles.FileExtensionContentTypeProvider();
        types.Mappings[".dat"] = "application/octet-stream";
        types.Mappings[".blat"] = "application/octet-stream";
        types.Mappings[".webmanifest"] = "application/manifest+json";
        var files = new PhysicalFileProvider(Path.GetFullPath(root));
        app.Map("/kiosk", kiosk =>
        {
            kiosk.UseDefaultFiles(new DefaultFilesOptions { FileProvider = files });
            kiosk.UseStaticFiles(new StaticFileOptions
            {
                FileProvider = files,
                ContentTypeProvider = types,
                // The service worker keeps versions; the browser's own cache must not serve an old one.
                OnPrepareResponse = c => c.Context.Response.Headers.CacheControl = "no-cache",
            });
            kiosk.Run(async http =>
            {
                if (Path.HasExtension(http.Request.Path)) { http.Response.StatusCode = 404; return; }
                http.Response.ContentType = "text/html; charset=utf-8";
                await http.Response.SendFileAsync(files.GetFileInfo("index.html"));
            });
        });
    }
}
